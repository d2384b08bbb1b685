// The words of the runs of the watch.
import type { PlainRun, RunChange, RunWeek } from "../steprate/api";
import { numberText } from "../logic/number";

const signed = (v: number, d = 1) => (v > 0 ? "+" : "") + numberText(v, d);
const min = (v: number) => numberText(v, 0);

export const runsEn = {
  title: "Runs of the watch",
  lead: "FIT, TCX and GPX files, packed (.gz) or not. Steady, level parts are looked at; hills, stops and changes of pace are left out. Step rates are of both feet.",
  choose: "Choose run files",
  drop: "Drop run files to take them in",
  dropHint: "Several at once; nothing leaves this machine.",
  places: (day: string | null) => (day ? `Kept with where they were, as agreed on ${day}.` : "Where the runs were is dropped, unless the runner agrees at the station Intake."),
  noRecords: "The runner has not agreed that records are kept, so no run is taken in. Note the consent at the station Intake.",
  taking: (n: number, of: number) => `Taking in ${n} of ${of}…`,
  took: (n: number, twice: number) => `${n} taken in${twice ? `, ${twice} there already` : ""}.`,
  refused: "Not taken in:",
  none: "No runs yet. Those from before the ramp give the baseline, those of its weeks show whether the steps became quicker or only the runs faster.",

  proof: "Before and now at equal speed",
  proofHint: "Each dot is a steady part of a run. The line is step rate on speed, the band its 95 % interval. Quicker steps lift the dots off the line; running faster only moves them along it.",
  before: (n: number, counted: boolean) => (counted ? "Before: as counted or filmed" : `Before the ramp: ${n} ${n === 1 ? "run" : "runs"}`),
  now: (n: number) => `Now: ${n} ${n === 1 ? "run" : "runs"}`,
  speed: "Speed",
  stepsMin: "steps/min",
  plot: "Step rate against speed, before the ramp and now",
  sameSpeed: "at the same speed",
  changeText: (c: RunChange): string => c.text,
  verdicts: { "quicker steps": "Quicker steps", "just faster": "Just faster, not quicker steps", "slower steps": "Slower steps", "no real change": "No real change", "cannot tell": "Cannot be told", "not run": "No runs" } as Record<string, string>,

  weeks: "Week by week",
  asked: "Asked",
  taken: "Taken",
  load: "Load",
  rampWeek: (n: number) => `ramp week ${n}`,
  beforeRamp: "before the ramp",
  afterRamp: "after the ramp",
  runsOf: (n: number, of: number) => `${n}${of ? ` of ${of}` : ""} ${n === 1 && !of ? "run" : "runs"}`,
  share: (p: string) => `${p} % of the steady time at it`,
  atSpeed: (v: string) => `at ${v}`,
  weekVerdicts: { reached: "Reached", "not reached": "Not reached", "just faster": "Just faster", missed: "Missed", "cannot tell apart": "Within the error", "cannot tell": "Cannot be told", "under way": "Under way" } as Record<string, string>,
  weekText: (w: RunWeek): string => w.text,
  do: { "go on": "Go on", hold: "Do the week again", "step back": "Go back a week", stop: "Stop" } as Record<string, string>,
  enter: "Enter into the ramp",
  entered: "entered",
  why: (w: RunWeek): string => w.why,
  loadText: (w: RunWeek): string => w.load,
  loadSource: "In 261 half-marathoners weeks of 20 to 60 % more went with more injuries at three weeks and not later (Damsted 2019, J Orthop Sports Phys Ther 49:230); in 5,205 runners the change from week to week told nothing (2025; journal and author from memory: Br J Sports Med, Frandsen). No alarm, but no week for anything else that is new.",
  km: (v: string) => `${v} km`,
  minutes: (v: string) => `${v} min`,

  spikes: "Much longer runs",
  spikeText: (s: { text: string; km: number; longest_km: number; percent: number }): string => s.text,
  source: "Runs more than 10, 30 and 100 % longer than the longest of the 30 days before went with 1.64, 1.52 and 2.28 times the rate of injury in 5,205 runners (2025; journal and author from memory: Br J Sports Med, Frandsen). The rule of 10 % more a week has nothing behind it and is not used.",

  list: "All runs",
  left: (r: PlainRun) => {
    const x = r.left;
    const total = r.steady_min + x.settling + x.stopped + x.hills + x.uneven + x.unknown;
    const why = ([["stops and walking", x.stopped], ["hills", x.hills], ["a pace that changes", x.uneven], ["running without speed or step rate", x.unknown], ["the first minute", x.settling]] as const).filter(([, v]) => v >= 0.5).map(([k, v]) => `${k} ${min(v)}`);
    return `${min(r.steady_min)} of ${min(total)} min steady and level.` + (why.length ? ` Left out: ${why.join(", ")} min.` : "");
  },
  doubt: (r: PlainRun): string => r.doubt,
  counts: "counts",
  countsNot: "does not count",
  itCounts: "It is this runner's: count it",
  leaveOut: "Leave it out",
  asProgram: "As the program sees it",
  remove: "Remove",
  removeName: (name: string) => `Remove ${name}`,
  anothers: "It is another runner’s…",
  anothersName: (name: string) => `${name} is another runner’s…`,
  giveTo: "Whose it is",
  give: "Give it to them",
  given: (run: string, whom: string) => `${run} is now among the runs of ${whom}. Undo takes it back.`,
  noOthers: "No other runner is on record.",
  unnamed: "Runner without a name",
  contact: (v: string) => `contact ${v} ms`,
  bounce: (v: string) => `oscillation ${v} cm`,
  withPlaces: "kept with where it was",

  folder: "Watched folder",
  folderHint: "A folder into which the watch's files are copied. It is looked into all the time, also while no page is open. The files are offered here and never altered or removed; none is taken in twice, and none by itself.",
  folderDir: "Folder, from its root",
  watch: "Watch it",
  folderNone: "No new run files in it.",
  folderTaken: (n: number) => `${n} of its files ${n === 1 ? "is" : "are"} taken in already.`,
  folderMore: (n: number) => `${n} not looked at yet; a file is looked at once it has lain still for three seconds, one that breaks off after a minute: it may be on its way.`,
  whose: (name: string) => `the watch of ${name}`,
  takeOne: (name: string) => `Take in for this runner: ${name}`,
  take: "Take in",
  takeAll: (n: number) => `Take in all ${n} for this runner`,
  signed,
};

export type RunsText = typeof runsEn;
