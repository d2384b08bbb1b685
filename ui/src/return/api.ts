// The station Return as the server sends it. What is not known is null.
import type { Curve, Maybe, Side, View } from "../api";
import { turned } from "../logic/units";
import type { Units } from "../prefs.svelte";
import { ask } from "../studio/api";
import type { LogWeek } from "../steprate/api";

/** Why two values cannot be compared, or what is to be said with a change. */
export interface Reason {
  code: string;
  before: string;
  after: string;
}

export interface Film {
  result: string;
  clip: number;
  name: string;
  view: View;
  speed_mps: Maybe;
  incline_percent: number;
  shoes: string;
  click: "" | "with" | "without";
  video: boolean;
}

export interface Change {
  name: string;
  title: string;
  group: string;
  test: boolean;
  stage: string;
  side: Side;
  unit: string;
  decimals: number;
  before: Maybe;
  after: Maybe;
  difference: Maybe;
  low: Maybe;
  high: Maybe;
  mdc95: Maybe;
  mdc: { from: "" | "studio" | "bench" | "literature" | "times"; source: string; n: number; df: number };
  verdict: "changed" | "no real change" | "cannot tell";
  why: Reason;
  why_text: string;
  cautions: Reason[];
  said: string[];
  p: Maybe;
  adjusted: Maybe;
  stands: boolean;
  return: Maybe;
  aim: boolean;
  toward: number;
  better: "" | "better" | "worse";
  before_clip: Film | null;
  after_clip: Film | null;
  beside: string;
}

export interface OverCurve {
  name: string;
  title: string;
  side: Side;
  unit: string;
  before: Curve;
  after: Curve;
  beside: string;
}

export interface TrendPoint {
  visit: string;
  date: string;
  value: Maybe;
  sem: Maybe;
  why: Reason;
  why_text: string;
}

export interface Trend {
  name: string;
  title: string;
  side: Side;
  unit: string;
  decimals: number;
  aim: boolean;
  points: TrendPoint[];
  per_week: Maybe;
  low: Maybe;
  high: Maybe;
  verdict: string;
  why: Reason;
  why_text: string;
}

export interface Phase {
  visit: string;
  kind: "learn" | "build" | "load" | "ramp";
  from: string;
  to: string;
  weeks: number;
}

export interface StepsThen {
  verdict: string;
  before: number;
  after: number;
  before_mps: Maybe;
  after_mps: Maybe;
  change: Maybe;
  low: Maybe;
  high: Maybe;
  raw_change: Maybe;
  speed_change: Maybe;
  text: string;
}

export interface RunWeek {
  from: string;
  ramp_week: number;
  runs: number;
  planned: number;
  verdict: string;
  asked: Maybe;
  taken: Maybe;
  low: Maybe;
  high: Maybe;
  speed_mps: Maybe;
  ran_mps: Maybe;
  text: string;
}

export interface Steps {
  changes: number[];
  film: StepsThen | null;
  click: StepsThen | null;
  target: Maybe;
  kept: "" | "kept" | "partly" | "lost";
  kept_percent: Maybe;
  runs: { runs: number; weeks: RunWeek[]; told: string; change: { verdict: string; change: number; low: number; high: number; speed_mps: number; text: string } } | null;
}

export interface Work {
  plan: boolean;
  ramp: boolean;
  start: string;
  plan_weeks: number;
  ramp_weeks: number;
  findings: string[];
  log_to: string;
  log_weeks: number;
  share: Maybe;
  run_share: Maybe;
  pain_worst: number | null;
  weeks: LogWeek[];
  before: string;
  complaint: [string, string];
  pain: { region: string; title: string; side: string; before: number | null; after: number | null }[];
}

export type Do = "progress" | "hold" | "step back";

export interface Block {
  block: string;
  areas: string[];
  findings: string[];
  planned: number;
  done: number;
  share: Maybe;
  changes: number[];
  do: Do;
  code: string;
  number: number;
  better: number;
  worse: number;
  told: number;
  why: string;
  decided: Do | "";
  note: string;
}

export interface ReturnVisit {
  id: string;
  date: string;
  result: string;
  exam: boolean;
  plan: boolean;
  step_rate: boolean;
  here: boolean;
  stale: boolean;
}

export interface Return {
  version: number;
  against: string;
  visits: ReturnVisit[];
  none: "" | "first" | "not_measured" | "not_measured_before";
  no_film: "" | "not_measured" | "not_measured_before";
  looked: { compared: number; called: number; stand: number; by_chance: number; visits: number };
  pairs: { after: Film; before: Film | null; why: Reason; text: string; said: Reason[]; beside: string }[];
  changes: Change[];
  curves: OverCurve[];
  trends: Trend[];
  phases: Phase[];
  steps: Steps | null;
  work: Work;
  blocks: Block[];
  note: string;
}

/** What the coach decides. */
export interface Kept {
  version: number;
  against: string;
  blocks: Record<string, { do: Do | ""; note: string }>;
  note: string;
}

export const kept = (p: Return): Kept => ({
  version: p.version,
  against: p.against,
  blocks: Object.fromEntries(p.blocks.filter((b) => b.decided || b.note).map((b) => [b.block, { do: b.decided, note: b.note }])),
  note: p.note,
});

const at = (visit: string) => `/api/visits/${encodeURIComponent(visit)}/return`;

export async function fetchReturn(visit: string, against: string): Promise<Return> {
  return (await ask(at(visit) + (against ? `?against=${encodeURIComponent(against)}` : ""))).json() as Promise<Return>;
}

export async function putReturn(visit: string, k: Kept): Promise<Return> {
  return (await ask(at(visit), { method: "PUT", body: JSON.stringify(k), headers: { "Content-Type": "application/json" } })).json() as Promise<Return>;
}

/** The numbers in the units of the reader; those of the server stay as they are. */
export function returnIn(units: Units, p: Return): Return {
  if (units === "metric") return p;
  const by = (f: number) => (v: Maybe) => (v === null ? null : v * f);
  return {
    ...p,
    changes: p.changes.map((c) => {
      const to = turned(c.unit, units);
      if (!to) return c;
      const f = by(to.factor);
      return { ...c, unit: to.unit, decimals: Math.max(0, c.decimals + to.decimals), before: f(c.before), after: f(c.after), difference: f(c.difference), low: f(c.low), high: f(c.high), mdc95: f(c.mdc95), return: f(c.return) };
    }),
    curves: p.curves.map((c) => {
      const to = turned(c.unit, units);
      if (!to) return c;
      const f = by(to.factor);
      const one = (k: Curve): Curve => ({ ...k, unit: to.unit, mean: k.mean.map(f), sd: k.sd.map(f) });
      return { ...c, unit: to.unit, before: one(c.before), after: one(c.after) };
    }),
    trends: p.trends.map((t) => {
      const to = turned(t.unit, units);
      if (!to) return t;
      const f = by(to.factor);
      return { ...t, unit: to.unit, decimals: Math.max(0, t.decimals + to.decimals), per_week: f(t.per_week), low: f(t.low), high: f(t.high), points: t.points.map((q) => ({ ...q, value: f(q.value), sem: f(q.sem) })) };
    }),
  };
}
