// Die Worte zum Ausprobieren an einer erfundenen Läuferin, auf Deutsch.
import { leftDe } from "./left";
import type { TryoutText } from "./tryout.en";

export const tryoutDe: TryoutText = {
  title: "Kein Film zur Hand?",
  lead: "Probieren Sie es an einer erfundenen Läuferin aus: Das Programm zeichnet sie von der Seite und von hinten, mit Fehlern, die sich finden lassen. Sie wird gemessen wie jede andere und danach gelöscht, wenn Sie mögen.",
  begin: "Zwei erfundene Filme zeichnen",
  beginning: "Wird vorbereitet …",

  drawing: "Die erfundenen Filme",
  films: { left: "Von links", rear: "Von hinten" },
  film: "Film",
  state: { queued: "wartet, bis er an der Reihe ist", running: "wird gezeichnet", failed: "konnte nicht gezeichnet werden" },
  left: leftDe,
  label: (what) => `${what}: wie weit die Zeichnung ist`,
  cancel: "Abbrechen",
  cancelOf: (what) => `Abbrechen: ${what}`,
  offer: "Der erfundene Film wird gezeichnet.",
  wait: "Die Aufnahme ansehen",
};
