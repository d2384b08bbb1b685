// Die Worte des Berichts über einen Termin, auf Deutsch.
import type { ReportText } from "./report.en";

export const reportDe: ReportText = {
  title: "Bericht",
  hint: "Zwei Seiten in einfacher Sprache für den Läufer, oder alles für Ärztin, Therapeut oder Trainer. Er beruht auf den Befunden, die Sie angenommen haben.",
  whom: "Für wen",
  for: { runner: "Läufer", clinician: "Arzt oder Trainer" },
  paper: "Papier",
  papers: { a4: "A4", letter: "Letter" },
  language: "Sprache des Berichts",
  languages: { en: "Englisch", de: "Deutsch" },
  save: "Als PDF speichern",
  print: "Zum Drucken öffnen",
  page: (n, of) => `Seite ${n} von ${of}`,
  drawing: "Der Bericht wird gezeichnet.",
  failed: (why) => `Der Bericht konnte nicht gezeichnet werden: ${why}`,
  pages: "Seiten des Berichts",
  earlier: "Seite davor",
  later: "Nächste Seite",
  logo: {
    title: "Logo auf Berichten",
    choose: "Ein Bild als PNG oder JPEG wählen, höchstens 2 MB",
    none: "Noch kein Logo. Die Berichte tragen den Namen des Studios.",
    now: "Das Logo des Studios",
    remove: "Logo entfernen",
    saved: "Das Logo ist gespeichert.",
    gone: "Das Logo wurde entfernt.",
    large: "Dieses Bild ist größer als 2 MB.",
    kind: "Das ist kein Bild als PNG oder JPEG.",
  },
};
