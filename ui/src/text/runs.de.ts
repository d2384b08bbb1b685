// The words of the runs of the watch, in German.
import type { PlainRun, RunChange, RunWeek } from "../steprate/api";
import { numberText } from "../logic/number";
import type { RunsText } from "./runs.en";

const signed = (v: number, d = 1) => (v > 0 ? "+" : "") + numberText(v, d);
const one = (v: number | null) => (v === null ? "–" : numberText(v, 1));
const two = (v: number | null) => (v === null ? "–" : numberText(v, 2));
const min = (v: number) => numberText(v, 0);

export const runsDe: RunsText = {
  title: "Läufe der Uhr",
  lead: "FIT-, TCX- und GPX-Dateien, gepackt (.gz) oder nicht. Betrachtet werden gleichmäßige, ebene Teile; Hügel, Halte und Tempowechsel bleiben weg. Schrittfrequenzen gelten für beide Füße.",
  choose: "Laufdateien wählen",
  drop: "Laufdateien hier ablegen, um sie aufzunehmen",
  dropHint: "Mehrere zugleich; nichts verlässt dieses Gerät.",
  places: (day) => (day ? `Aufbewahrt mit den Orten, wie am ${day} vereinbart.` : "Wo gelaufen wurde, wird verworfen, außer die Person stimmt an der Station Aufnahme zu."),
  noRecords: "Der Aufbewahrung von Aufzeichnungen wurde nicht zugestimmt, deshalb wird kein Lauf aufgenommen. Trage die Zustimmung an der Station Aufnahme ein.",
  taking: (n, of) => `Nehme ${n} von ${of} auf…`,
  took: (n, twice) => `${n} aufgenommen${twice ? `, ${twice} waren schon da` : ""}.`,
  refused: "Nicht aufgenommen:",
  none: "Noch keine Läufe. Die von vor der Rampe geben den Ausgangswert, die ihrer Wochen zeigen, ob die Schritte schneller wurden oder nur die Läufe.",

  proof: "Vorher und jetzt bei gleichem Tempo",
  proofHint: "Jeder Punkt ist ein gleichmäßiger Teil eines Laufs. Die Linie ist die Schrittfrequenz über dem Tempo, das Band ihr 95-%-Bereich. Schnellere Schritte heben die Punkte von der Linie; schnelleres Laufen verschiebt sie nur an ihr entlang.",
  before: (n, counted) => (counted ? "Vorher: wie gezählt oder gefilmt" : `Vor der Rampe: ${n} ${n === 1 ? "Lauf" : "Läufe"}`),
  now: (n) => `Jetzt: ${n} ${n === 1 ? "Lauf" : "Läufe"}`,
  speed: "Tempo",
  stepsMin: "Schritte/min",
  plot: "Schrittfrequenz über dem Tempo, vor der Rampe und jetzt",
  sameSpeed: "bei gleichem Tempo",
  changeText: (c: RunChange) => {
    const band = `${signed(c.change)} je Minute (${numberText(c.low, 1)} bis ${numberText(c.high, 1)}) bei denselben ${two(c.speed_mps)} m/s`;
    switch (c.verdict) {
      case "quicker steps":
        return `Schnellere Schritte: ${band}.`;
      case "slower steps":
        return `Langsamere Schritte: ${band}.`;
      case "just faster":
        return `Nur schneller gelaufen: Die Läufe waren ${two(c.speed_change)} m/s schneller und die Schritte damit ${one(c.raw_change)} je Minute mehr; bei gleichem Tempo sind es ${band}.`;
      case "no real change":
        return `Keine echte Änderung: ${band}.`;
      case "cannot tell":
        return c.change ? `Zu wenig gleichmäßiges Laufen, um es zu sagen: ${band}.` : "Das lässt sich nicht vergleichen: Tempo oder Schrittfrequenz fehlt.";
    }
    return "Seit Beginn der Rampe kam kein gleichmäßiger Lauf zurück.";
  },
  verdicts: { "quicker steps": "Schnellere Schritte", "just faster": "Nur schneller gelaufen, nicht schneller getreten", "slower steps": "Langsamere Schritte", "no real change": "Keine echte Änderung", "cannot tell": "Nicht zu sagen", "not run": "Keine Läufe" },

  weeks: "Woche für Woche",
  asked: "Verlangt",
  taken: "Gelaufen",
  load: "Umfang",
  rampWeek: (n) => `Rampenwoche ${n}`,
  beforeRamp: "vor der Rampe",
  afterRamp: "nach der Rampe",
  runsOf: (n, of) => `${n}${of ? ` von ${of}` : ""} ${n === 1 && !of ? "Lauf" : "Läufen"}`.replace(/^(\d+) Läufen$/, "$1 Läufe"),
  share: (p) => `${p} % der gleichmäßigen Zeit dabei`,
  atSpeed: (v) => `bei ${v}`,
  weekVerdicts: { reached: "Erreicht", "not reached": "Nicht erreicht", "just faster": "Nur schneller", missed: "Ausgefallen", "cannot tell apart": "Im Messfehler", "cannot tell": "Nicht zu sagen", "under way": "Läuft noch" },
  weekText: (w: RunWeek) => {
    const figures = `${one(w.taken)} Schritte je Minute (${one(w.low)} bis ${one(w.high)}) bei ${two(w.speed_mps)} m/s, verlangt ${one(w.asked)}`;
    switch (w.verdict) {
      case "reached":
        return `Erreicht: ${figures}.`;
      case "not reached":
        return `Nicht erreicht: ${figures}.`;
      case "just faster":
        return `Nur schneller gelaufen, nicht schneller getreten: im Mittel ${two(w.ran_mps)} m/s, und die ${one(w.ran_per_min)} Schritte je Minute kommen davon. ${figures}.`;
      case "missed":
        return "Ausgefallen: Kein Lauf dieser Woche kam zurück.";
      case "cannot tell apart":
        return `Vom Verlangten nicht zu unterscheiden: ${figures}.`;
      case "under way":
        return "Die Woche läuft; noch kam kein Lauf zurück.";
      case "cannot tell":
        return "Tempo oder Schrittfrequenz fehlt, deshalb ist zu den Schritten nichts zu sagen.";
    }
    return "";
  },
  do: { "go on": "Weiter", hold: "Woche wiederholen", "step back": "Eine Woche zurück", stop: "Aufhören" },
  enter: "In die Rampe eintragen",
  entered: "eingetragen",
  why: (w: RunWeek) => {
    if (w.do === "go on") return "Nächste Woche mehr, beim selben Tempo.";
    if (w.verdict === "missed") return "Es wurde nicht gelaufen: diese Woche noch einmal.";
    if (w.taken !== null && w.asked !== null && w.taken < w.asked) return `${one(w.taken)} statt ${one(w.asked)} bei diesem Tempo: diese Woche noch einmal, beim vorgesehenen Tempo.`;
    return `${w.runs} von ${w.planned} Läufen: diese Woche noch einmal.`;
  },
  loadText: (w: RunWeek) => (w.load ? `${one(w.km)} km: ${min(w.more_percent)} % mehr als das Mittel der Wochen davor.` : ""),
  loadSource: "Bei 261 Halbmarathonläufern gingen Wochen mit 20 bis 60 % mehr nach drei Wochen mit mehr Verletzungen einher, später nicht (Damsted 2019, J Orthop Sports Phys Ther 49:230); bei 5.205 Läufern sagte die Änderung von Woche zu Woche nichts (2025; Zeitschrift und Autor aus dem Gedächtnis: Br J Sports Med, Frandsen). Kein Alarm, aber keine Woche für anderes Neues.",
  km: (v) => `${v} km`,
  minutes: (v) => `${v} min`,

  spikes: "Viel längere Läufe",
  spikeText: (s) => `${one(s.km)} km sind ${min(s.percent)} % länger als der längste Lauf der 30 Tage davor (${one(s.longest_km)} km). Das ist keine Vorhersage für eine einzelne Person.`,
  source: "Läufe, die mehr als 10, 30 und 100 % länger waren als der längste der 30 Tage davor, gingen bei 5.205 Läufern mit 1,64-, 1,52- und 2,28-facher Verletzungsrate einher (2025; Zeitschrift und Autor aus dem Gedächtnis: Br J Sports Med, Frandsen). Für die Regel von 10 % je Woche spricht nichts; sie wird nicht benutzt.",

  list: "Alle Läufe",
  left: (r: PlainRun) => {
    const x = r.left;
    const total = r.steady_min + x.settling + x.stopped + x.hills + x.uneven + x.unknown;
    const why = ([["Halte und Gehen", x.stopped], ["Hügel", x.hills], ["wechselndes Tempo", x.uneven], ["Laufen ohne Tempo oder Schrittfrequenz", x.unknown], ["die erste Minute", x.settling]] as const).filter(([, v]) => v >= 0.5).map(([k, v]) => `${k} ${min(v)}`);
    return `${min(r.steady_min)} von ${min(total)} min gleichmäßig und eben.` + (why.length ? ` Weggelassen: ${why.join(", ")} min.` : "");
  },
  doubt: (r: PlainRun) => {
    switch (r.doubt_kind) {
      case "same":
        return `Derselbe Lauf wie ${r.doubt_other}, in einer anderen Datei: Er zählt einmal.`;
      case "overlap":
        return `Er überschneidet sich mit ${r.doubt_other} um ${min(r.doubt_by / 60)} min: Beide kann niemand gelaufen sein, einer gehört jemand anderem.`;
      case "apart":
      case "level":
        return `Bei gleichem Tempo sind es ${min(Math.abs(r.doubt_by))} Schritte je Minute ${r.doubt_by < 0 ? "weniger" : "mehr"} als in den anderen Läufen${r.doubt_kind === "apart" ? ", und die beiden Arten wechseln sich ab" : ""}: Ist es die Datei von jemand anderem oder eine andere Uhr?`;
      case "day":
        return "Die Uhr kannte den Tag nicht.";
    }
    return r.doubt;
  },
  counts: "zählt",
  countsNot: "zählt nicht",
  itCounts: "Gehört dieser Person: zählen",
  leaveOut: "Weglassen",
  asProgram: "Wie das Programm es sieht",
  remove: "Entfernen",
  removeName: (name) => `${name} entfernen`,
  anothers: "Gehört jemand anderem…",
  anothersName: (name) => `${name} gehört jemand anderem…`,
  giveTo: "Wem er gehört",
  give: "Dorthin geben",
  given: (run, whom) => `${run} ist jetzt bei den Läufen von ${whom}. „Rückgängig“ holt ihn zurück.`,
  noOthers: "Es ist niemand sonst angelegt.",
  unnamed: "Läufer ohne Namen",
  contact: (v) => `Kontakt ${v} ms`,
  bounce: (v) => `Schwingung ${v} cm`,
  withPlaces: "mit den Orten aufbewahrt",

  folder: "Beobachteter Ordner",
  folderHint: "Ein Ordner, in den die Dateien der Uhr kopiert werden. Er wird immer wieder angesehen, auch wenn keine Seite offen ist. Die Dateien werden hier angeboten und nie verändert oder entfernt; keine wird zweimal aufgenommen und keine von selbst.",
  folderDir: "Ordner, von der Wurzel an",
  watch: "Beobachten",
  folderNone: "Keine neuen Laufdateien darin.",
  folderTaken: (n) => `${n} seiner Dateien ${n === 1 ? "ist" : "sind"} schon aufgenommen.`,
  folderMore: (n) => `${n} noch nicht angesehen; eine Datei wird angesehen, wenn sie drei Sekunden still lag, eine abbrechende nach einer Minute: Sie könnte noch unterwegs sein.`,
  whose: (name) => `Uhr von ${name}`,
  takeOne: (name) => `Für diese Person aufnehmen: ${name}`,
  take: "Aufnehmen",
  takeAll: (n) => `Alle ${n} für diese Person aufnehmen`,
  signed,
};
