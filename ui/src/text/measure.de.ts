// Die Worte der Station Messen auf Deutsch.
import { leftDe } from "./left";
import type { MeasureText } from "./measure.en";

export const measureDe: MeasureText = {
  signs: "Die Warnzeichen sind noch nicht alle abgefragt. Ein Ja darunter heißt: anhalten und überweisen.",
  toSigns: "Jetzt abfragen",
  title: "Messen",
  none: "Noch gibt es nichts zu messen: Kein Film wurde aufgenommen.",
  which: "Filme, die gemessen werden",
  measure: (n) => (n === 1 ? "1 Film messen" : `${n} Filme messen`),
  again: (n) => (n === 1 ? "1 Film neu messen" : `${n} Filme neu messen`),
  measuring: "Wird gemessen …",
  waiting: "Das Messen wartet auf andere Arbeit.",
  drawing: "Noch ein erfundener Film wird gezeichnet.",
  drawingWait: "Wird gezeichnet …",
  chooseOne: "Bitte einen Film wählen.",
  model: "Wie gründlich",
  models: { usual: ["Wie üblich", ""], lite: ["Schnell", "weniger genau"], heavy: ["Gründlich", "langsamer"] },
  anew: "Neu messen",
  options: "Filme und Gründlichkeit wählen",

  left: leftDe,

  result: "Was gefunden wurde",
  of: (date) => `Gemessen ${date}`,
  older: "Frühere Messungen",
  newest: "neueste",
  stale: "Ein Film, die Angaben dazu, seine Aufkleber oder der Körper des Läufers wurden seit dieser Messung geändert. Bitte neu messen; dieses Ergebnis bleibt.",
  show: "Zeigen",
  shown: "gezeigt",
  report: "Bericht (PDF)",
  frames: "Die Bilder ansehen",
  framesOf: (view) => `Bilder: ${view}`,
  offerFrames: "Die Bilder ansehen, die zu prüfen sich lohnt.",
  offerMeasure: (n) => (n === 1 ? "Ein Film ist bereit." : `${n} Filme sind bereit.`),
  offerStale: "Seither wurde etwas geändert: neu messen.",
  notes: "Bitte beachten",
  withheld: (n) => (n === 1 ? "Ein Messwert wird nicht angegeben; die Tabelle sagt, warum." : `${n} Messwerte werden nicht angegeben; die Tabelle sagt, warum.`),
  nothing: "Kein Messwert liegt über seinen Fehler hinaus außerhalb seines Bereichs.",

  headline: {
    usual: (span) => `üblich ${span}`,
    beyond: "Links und rechts unterscheiden sich um mehr als den Fehler.",
    sides: (l, r) => `links ${l}, rechts ${r}`,
    no: "Das sind Messwerte, keine Befunde.",
  },
};
