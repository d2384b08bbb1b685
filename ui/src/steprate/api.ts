// Step rate, homework and log as the server sends them. Step rates are of both
// feet, steps a minute; what is not known is null.
import type { Maybe } from "../api";
import type { Units } from "../prefs.svelte";
import { ask } from "../studio/api";

export interface Rate {
  per_min: number;
  sem: number;
  how: string;
  speed_mps: Maybe;
  text: string;
}

export interface Asked {
  how: "" | "film" | "count" | "runs";
  count: number | null;
  seconds: number | null;
  one_foot: boolean;
  speed_mps: Maybe;
  landing: "" | "yes" | "no";
  target: number | null;
  paces: { name: string; speed_mps: number; base: number | null }[];
  step_a_week: number | null;
  run_min: number | null;
  fade_weeks: number | null;
  hold_weeks: number | null;
  turns: { week: number; do: "hold" | "step back" }[];
}

export interface WeekAt {
  name: string;
  speed_mps: number;
  per_min: number;
  step_length_m: number;
  speed_kmh: number;
  pace: string;
}

export interface RampWeek {
  number: number;
  from: string;
  per_min: number;
  run_min: number;
  on_min: number;
  off_min: number;
  rise_percent: number;
  at: WeekAt[];
  note: string;
  hand: boolean;
}

export interface StepRate {
  version: number;
  ask: Asked;
  base: Rate | null;
  film: Rate | null;
  runs: Rate | null;
  target: { none: string; per_min: Maybe; least: Maybe; most: Maybe; why: string; anchors: { per_min: number; within: number; name: string; source: string }[]; landing: string };
  weeks: RampWeek[];
  none: string;
  count: { both_s: number; one_s: number; text: string };
  disputed: { number: number; text: string; source: string }[];
}

export interface LogWeek {
  from: string;
  ramp_week: number;
  asked: Maybe;
  planned: number;
  runs: number;
  run_min: number;
  exercises: number;
  exercise_days: number;
  pain_worst: number | null;
  pain_next_day: boolean;
  bone: boolean;
  effort: number;
  per_min: Maybe;
  counts: number;
  notes: string[];
  do: "go on" | "hold" | "step back" | "stop";
  why: string;
  turned: boolean;
}

export interface Handout {
  version: number;
  ready: boolean;
  missing: string;
  plan_weeks: number;
  ramp_weeks: number;
  weeks: LogWeek[];
  said: string[];
}

const at = (visit: string, part: string) => `/api/visits/${encodeURIComponent(visit)}/${part}`;

async function json<T>(path: string, method: string, body?: unknown): Promise<T> {
  const more: RequestInit = method === "GET" ? {} : { method, body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  return (await ask(path, more)).json() as Promise<T>;
}

export const stepRate = (v: string) => json<StepRate>(at(v, "steprate"), "GET");
export const putStepRate = (v: string, version: number, asked: Asked, weeks: RampWeek[] | null) => json<StepRate>(at(v, "steprate"), "PUT", { version, ask: asked, weeks });
export const handout = (v: string) => json<Handout>(at(v, "handout"), "GET");
export const sendLog = (v: string, text: string) => json<Handout>(at(v, "log"), "POST", { text });
export const homeworkPath = (v: string, language: string, units: Units) => at(v, `homework.html?lang=${language}&units=${units}`);
export const clickPath = (v: string, week: number, pace: number) => at(v, `click.wav?week=${week}&pace=${pace}`);
export const calendarPath = (v: string, language: string, units: Units) => at(v, `plan.ics?lang=${language}&units=${units}`);

/** What became of a run's time, minutes. */
export interface Left {
  settling: number;
  stopped: number;
  hills: number;
  uneven: number;
  unknown: number;
}

export interface PlainRun {
  id: string;
  version: number;
  name: string;
  format: string;
  start: string;
  day: string;
  minutes: number;
  km: number;
  steady_min: number;
  speed_mps: Maybe;
  per_min: Maybe;
  contact_ms: Maybe;
  bounce_cm: Maybe;
  left_out: string;
  left: Left;
  notes: string[];
  doubt: string;
  doubt_kind: "" | "same" | "overlap" | "apart" | "level" | "day";
  doubt_other: string;
  doubt_by: number;
  use: "" | "yes" | "no";
  counts: boolean;
  places: boolean;
}

export interface RunWeek {
  from: string;
  ramp_week: number;
  /** It lies after the ramp's last week. */
  after: boolean;
  runs: number;
  planned: number;
  km: number;
  minutes: number;
  longest_km: number;
  load: string;
  more_percent: number;
  verdict: string;
  asked: Maybe;
  taken: Maybe;
  low: Maybe;
  high: Maybe;
  speed_mps: Maybe;
  ran_mps: Maybe;
  ran_per_min: Maybe;
  share: Maybe;
  text: string;
  do: "" | "go on" | "hold" | "step back" | "stop";
  why: string;
}

export interface RunLine {
  from: string;
  to: string;
  runs: number;
  slope: number;
  points: { speed_mps: number; per_min: number; low: number; high: number }[];
  counted: boolean;
}

export interface RunChange {
  verdict: string;
  speed_mps: number;
  change: number;
  low: number;
  high: number;
  raw_change: number;
  speed_change: number;
  text: string;
}

export interface RunProof {
  weeks: RunWeek[];
  before: RunLine | null;
  now: RunLine | null;
  points: { now: boolean; speed_mps: number; per_min: number }[];
  change: RunChange;
  spikes: { day: string; km: number; longest_km: number; percent: number; text: string }[];
  told: string;
}

export interface Runs {
  runner_id: string;
  runs: PlainRun[];
  positions: string | null;
  records: boolean;
  proof: RunProof;
}

export interface RunFolder {
  dir: string;
  problem: string;
  files: { name: string; hash: string; wrong: string; run: PlainRun | null; runner: string; runner_name: string; visit: string }[];
  taken: number;
  more: number;
}

export interface RunTaken {
  run: PlainRun;
  already: boolean;
  said: string;
}

export const runs = (v: string) => json<Runs>(at(v, "runs"), "GET");
// What is done at a visit is taken back there.
export const sendRun = async (visit: string, runner: string, file: File) =>
  (await ask(`/api/runners/${encodeURIComponent(runner)}/runs?name=${encodeURIComponent(file.name)}&visit=${encodeURIComponent(visit)}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json() as Promise<RunTaken>;
export const useRun = (visit: string, r: PlainRun, use: "" | "yes" | "no") => json<object>(`/api/runs/${encodeURIComponent(r.id)}`, "PUT", { version: r.version, use, runner: "", visit });
export const giveRun = (visit: string, r: PlainRun, runner: string) => json<object>(`/api/runs/${encodeURIComponent(r.id)}`, "PUT", { version: r.version, use: "", runner, visit });
export const removeRun = (visit: string, r: PlainRun) => json<object>(`/api/runs/${encodeURIComponent(r.id)}?version=${r.version}&visit=${encodeURIComponent(visit)}`, "DELETE");
export const runFolder = () => json<RunFolder>("/api/runfolder", "GET");
export const watchFolder = (dir: string) => json<RunFolder>("/api/runfolder", "PUT", { dir });
export const takeFound = (visit: string, runner: string, name: string, hash: string) => json<RunTaken>(`/api/runners/${encodeURIComponent(runner)}/runs/found`, "POST", { visit, name, hash });
