// Step rate, homework and log as the server sends them. Step rates are of both
// feet, steps a minute; what is not known is null.
import type { Maybe } from "../api";
import { ask } from "../studio/api";

export interface Rate {
  per_min: number;
  sem: number;
  how: string;
  speed_mps: Maybe;
  text: string;
}

export interface Asked {
  how: "" | "film" | "count";
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
export const homeworkPath = (v: string, language: string) => at(v, `homework.html?lang=${language}`);
export const clickPath = (v: string, week: number, pace: number) => at(v, `click.wav?week=${week}&pace=${pace}`);
export const calendarPath = (v: string) => at(v, "plan.ics");
