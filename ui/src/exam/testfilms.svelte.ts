// Films of tests on their way: each belongs to the test and side for which it was
// taken, whatever is open when it arrives.
import { onArrival, send, uploads, type Upload } from "../film/uploads.svelte";
import { putClip, type StudioClip } from "../studio/api";
import type { TestSide } from "./api";

interface For {
  visit: string;
  name: string;
  test: string;
  side: TestSide;
}

const sent: For[] = [];
/** Films that have arrived and were not read yet. */
const arrived = $state<{ for: For; clip: StudioClip | null; trouble: string }[]>([]);

onArrival((visit, clip) => {
  const i = sent.findIndex((f) => f.visit === visit && f.name === clip.name);
  if (i < 0) return;
  const [mine] = sent.splice(i, 1);
  void putClip({ ...clip, facts: { ...clip.facts, view: "front", test: mine!.test } })
    .then((kept) => arrived.push({ for: mine!, clip: kept, trouble: "" }))
    .catch((err: unknown) => arrived.push({ for: mine!, clip: null, trouble: err instanceof Error ? err.message : String(err) }));
});

/** Sends films of a test on one side. */
export function sendOf(visit: string, test: string, side: TestSide, files: File[]): void {
  for (const f of files) sent.push({ visit, name: f.name, test, side });
  send(visit, files);
}

/** The film of a test that is on its way. */
export const underWay = (visit: string, test: string): Upload | undefined => uploads.find((u) => u.visit === visit && sent.some((f) => f.visit === visit && f.name === u.name && f.test === test));

/** Films of a visit that have arrived, whatever they are of. */
export const arrivedAt = (visit: string) => arrived.filter((a) => a.for.visit === visit);

/** Takes the next film that arrived for a test on a side; it is given once. */
export function takeArrived(visit: string, test: string, side: TestSide): { clip: StudioClip | null; trouble: string } | null {
  const i = arrived.findIndex((a) => a.for.visit === visit && a.for.test === test && a.for.side === side);
  return i < 0 ? null : arrived.splice(i, 1)[0]!;
}
