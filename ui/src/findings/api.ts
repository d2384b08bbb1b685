// What the stations Findings and Plan ask of the server.
import type { Units } from "../prefs.svelte";
import { ask } from "../studio/api";

export type Side = "left" | "right" | "both";

export interface PictureOf {
  clip: number;
  frame: number;
  moment: "contact" | "stance" | "late" | "toe_off" | "swing";
  side: Side;
  url: string;
  bench: string;
}

export interface Evidence {
  text: string;
  measure: string;
  test: string;
  side: Side;
  value: number | null;
  limit: number | null;
  error: number | null;
  unit: string;
  size_mdc: number | null;
  rule: string;
  source: string;
  tag: string;
  flag: string;
  origin: string;
  picture: PictureOf | null;
}

export interface TestNext {
  test: string;
  title: string;
}

export interface Disputed {
  number: number;
  text: string;
  source: string;
}

export interface Aim {
  block: string;
  area: string;
  side: Side | "";
  why: string;
  of: string;
}

export interface Part {
  pattern: string;
  title: string;
  side: Side;
  size: string;
  seen: Evidence[];
  also: Evidence[];
  unclear: Evidence[];
  unmeasured: Evidence[];
  causes: { text: string; state: "supported" | "for and against" | "not tested" | "undecided" | "spoken against"; for: Evidence[]; against: Evidence[]; other_side: Evidence[]; untested: TestNext[] }[];
  rivals: { text: string; settle: string }[];
  change: number;
  change_text: string;
}

export interface Finding {
  name: string;
  title: string;
  text: string;
  sides: Side[];
  joined: boolean;
  parts: Part[];
  exam: Evidence[];
  size: "none" | "slight" | "clear" | "large";
  size_mdc: number | null;
  confidence: "well supported" | "supported" | "tentative";
  confidence_text: string;
  rank: { name: string; points: number | null }[];
  test_next: TestNext[];
  overturn: string[];
  disputed: Disputed[];
  aims: Aim[];
}

export interface Own {
  id: string;
  title: string;
  text: string;
  side: Side;
  aims: Aim[];
}

export interface Decision {
  state: "accepted" | "rejected";
  reason: string;
}

/** What the coach decided. */
export interface Kept {
  version: number;
  decisions: Record<string, Decision>;
  own: Own[];
  order: string[];
}

export interface Referral {
  region: string;
  side: Side;
  why: string[];
}

export interface Findings extends Kept {
  result: string;
  stale: boolean;
  exam: boolean;
  note: string;
  report: {
    findings: Finding[];
    others: Finding[];
    none: string;
    refer: Referral[];
    /** What the exam shows and no finding rests on. */
    loose: Evidence[];
    looked: number;
    blind: string[];
    rules: number;
    aims: { block: string; area: string }[];
  };
}

async function json<T>(path: string, body?: unknown): Promise<T> {
  const more: RequestInit = body === undefined ? {} : { method: "PUT", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  return (await ask(path, more)).json() as Promise<T>;
}

const id = encodeURIComponent;

export const findings = (visit: string) => json<Findings>(`/api/visits/${id(visit)}/findings`);
export const putFindings = (visit: string, k: Kept) => json<Findings>(`/api/visits/${id(visit)}/findings`, { version: k.version, decisions: k.decisions, own: k.own, order: k.order });

/** What was decided, of all that is shown. */
export const kept = (f: Findings): Kept => ({ version: f.version, decisions: f.decisions, own: f.own, order: f.order });

export interface Dose {
  sets: number;
  reps?: number;
  hold_s?: number;
  seconds?: number;
  pace?: string;
  rest_s: number;
  per_week: number;
}

export interface Item {
  exercise: string;
  side: Side;
  dose: Dose;
  of: string;
  why?: string;
  hand?: boolean;
}

export interface Week {
  number: number;
  warm: Item[];
  full: Item[];
  running: Item[];
  note: string;
  hand?: boolean;
}

export type ListName = "warm" | "full" | "running";
export const listNames: ListName[] = ["warm", "full", "running"];

export interface Ask {
  start: string;
  weeks: number;
  full_min: number;
  warm_min: number;
  full_days: number;
  run_days: number;
  equipment: string[];
}

export interface Exercise {
  name: string;
  title: string;
  block: string;
  area: string;
  level: number;
  each: boolean;
  warm: boolean;
  run: boolean;
  dose: Dose;
  needs: string[];
  how: string[];
  cue: string;
  felt: string;
  not_felt: string;
  easier: string;
  harder: string;
  evidence: string;
  tag: string;
  own: boolean;
  refused: string;
  /** Numbers of the disputed points that it touches. */
  disputed: number[];
}

export interface Plan {
  version: number;
  ask: Ask;
  weeks: Week[];
  minutes: { warm: number; full: number }[];
  left: { exercise: string; why: string }[];
  retest: string;
  full_days: number[];
  run_days: number[];
  unmet: { what: string; why: string }[];
  removed: string[];
  closed: string[];
  none: string;
  /** Why no run is planned, and why full sessions are short; empty where neither is so. */
  no_run: string;
  short: string;
  stale: boolean;
  /** Why it is behind: findings, shut (less may be done) or opened (more may be done). */
  behind: string;
  accepted: string[];
  refer: Referral[];
  rules: { if: string; then: string; source: string }[];
  stops: string[];
  disputed: Disputed[];
  note: string;
  exercises: Exercise[];
  equipment: string[];
}

export const plan = (visit: string) => json<Plan>(`/api/visits/${id(visit)}/plan`);
export const putPlan = (visit: string, version: number, asked: Ask, weeks: Week[]) => json<Plan>(`/api/visits/${id(visit)}/plan`, { version, ask: asked, weeks });
export const calendarPath = (visit: string, language: string, units: Units) => `/api/visits/${id(visit)}/plan.ics?lang=${language}&units=${units}`;
export const figurePath = (exercise: string, pose: "start" | "end", side: Side, look: string) => `/api/exercises/${id(exercise)}/${pose}.svg?side=${side}&look=${look}`;
