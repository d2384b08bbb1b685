// Films of tests on their way: each is read for the test and side for which it was
// taken, whatever is open when it arrives, also where the page was loaded anew meanwhile.
import { onArrival, send, uploads, type Upload } from "../film/uploads.svelte";
import { putClip } from "../studio/api";
import { readFilm, type TestSide } from "./api";

interface For {
  visit: string;
  name: string;
  test: string;
  side: TestSide;
}

const slot = "gaitwright.testfilms";

function remembered(): For[] {
  try {
    return JSON.parse(localStorage.getItem(slot) ?? "[]") as For[];
  } catch {
    return [];
  }
}

let sent: For[] = remembered();

function remember(): void {
  try {
    localStorage.setItem(slot, JSON.stringify(sent));
  } catch {
    // Then they are known as long as the page is.
  }
}

/** Films that arrived and could not be put to be read. */
const troubles = $state<{ for: For; text: string }[]>([]);

onArrival((visit, clip) => {
  const mine = sent.find((f) => f.visit === visit && f.name === clip.name);
  if (!mine) return;
  sent = sent.filter((f) => f !== mine);
  remember();
  void putClip({ ...clip, facts: { ...clip.facts, view: "front", test: mine.test } })
    .then((kept) => readFilm(visit, kept.id, mine.test, mine.side))
    .catch((err: unknown) => troubles.push({ for: mine, text: err instanceof Error ? err.message : String(err) }));
});

/** Sends films of a test on one side. */
export function sendOf(visit: string, test: string, side: TestSide, files: File[]): void {
  sent.push(...files.map((f) => ({ visit, name: f.name, test, side })));
  remember();
  send(visit, files);
}

/** The film of a test that is on its way. */
export const underWay = (visit: string, test: string): Upload | undefined => uploads.find((u) => u.visit === visit && sent.some((f) => f.visit === visit && f.name === u.name && f.test === test));

const isOf = (f: For, visit: string, test: string, side: TestSide) => f.visit === visit && f.test === test && f.side === side;

/** Why the film that arrived last for a test on a side is not read; empty where nothing is wrong. */
export const troubleOf = (visit: string, test: string, side: TestSide): string => troubles.findLast((t) => isOf(t.for, visit, test, side))?.text ?? "";

/** Forgets what was wrong. */
export function tryAnew(visit: string, test: string, side: TestSide): void {
  for (let i = troubles.length - 1; i >= 0; i--) if (isOf(troubles[i]!.for, visit, test, side)) troubles.splice(i, 1);
}
