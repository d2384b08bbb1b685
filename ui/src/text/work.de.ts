// Die Worte der Arbeit im Hintergrund, auf Deutsch.
import { leftDe } from "./left";
import type { WorkText } from "./work.en";

export const workDe: WorkText = {
  title: "In Arbeit",
  kinds: { measure: "Messung", export: "Ausgabe", follow: "Aufkleber verfolgen", draw: "Erfundenen Film zeichnen", exam: "Prüfung aus einem Film auswerten" },
  state: { queued: "wartet, bis es an der Reihe ist", running: "in Arbeit", done: "fertig", failed: "misslungen", cancelled: "abgebrochen" },
  left: leftDe,
  cancel: "Abbrechen",
  cancelOf: (what) => `Abbrechen: ${what}`,
  label: (what) => `${what}: Fortschritt`,
};
