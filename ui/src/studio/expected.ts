// Answers of the server that were asked for ahead. Each is taken once, and soon.

const answers = new Map<string, Promise<Response>>();
let until = 0;

/** Keeps the answer that comes for a path. */
export function keepAnswer(path: string, answer: Promise<Response>): void {
  answer.catch(() => answers.delete(path)); // who wants it asks anew
  answers.set(path, answer);
}

/** How long what is kept is good, in ms from now; 0 forgets it. */
export function goodFor(ms: number): void {
  until = Date.now() + ms;
  if (!ms) answers.clear();
}

/** The answer for a path, if one is kept and still good; it is kept no longer. */
export function answered(path: string): Promise<Response> | undefined {
  const answer = Date.now() < until ? answers.get(path) : undefined;
  answers.delete(path);
  return answer;
}
