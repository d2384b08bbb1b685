// The exam as the server sends it. What is not known is null.
import type { Maybe } from "../api";
import type { Figure } from "../parts/LineFigure.svelte";
import { ask, type Job } from "../studio/api";

export type Kind = "strength" | "mobility" | "control";
export type TestSide = "left" | "right" | "";
export type Stage = "" | "before" | "after";

export interface Range {
  sex: string;
  of: string;
  low: Maybe;
  high: Maybe;
  typical: Maybe;
  n: number;
  unit: string;
  source: string;
  tag: string;
  note: string;
}

export interface Test {
  name: string;
  title: string;
  kind: Kind;
  unit: string;
  better: "higher" | "lower";
  sided: boolean;
  low: number;
  high: number;
  trials: number;
  pick: "best" | "mean";
  sign: string;
  lever: { from: string; to: string } | null;
  counter: boolean;
  timer: boolean;
  click: number;
  film: boolean;
  felt: string[];
  stages: boolean;
  position: string;
  how: string[];
  watch: string[];
  error: { value: Maybe; percent: Maybe; least: Maybe; source: string; tag: string };
  ranges: Range[];
  notes: string[];
  contested: { text: string; source: string } | null;
  guide: Figure;
}

export interface Trial {
  value: Maybe;
  force_n: Maybe;
  lever_m: Maybe;
  invalid: string;
  pain: number;
  clip: string;
}

export interface Entry {
  trials: Trial[];
  felt: string;
  note: string;
}

export interface Reading {
  test: string;
  side: TestSide;
  stage: Stage;
  value: Maybe;
  unit: string;
  reason: string;
  valid: number;
  trials: number;
  spread: Maybe;
  sem: Maybe;
  mdc95: Maybe;
  error_source: string;
  force_n: Maybe;
  torque_nm: Maybe;
  force_per_mass: Maybe;
  pain: number;
  stopped: boolean;
  felt: string;
  range: Range | null;
  verdict: "cannot be said" | "inside" | "at the border" | "below" | "above";
  cautions: string[];
}

export interface Pair {
  test: string;
  stage: Stage;
  ratio_percent: Maybe;
  difference: Maybe;
  margin: Maybe;
  weaker: TestSide;
  text: string;
}

export interface Pointer {
  test: string;
  why: string;
  source: string;
}

export interface Exam {
  version: number;
  entries: Record<string, Entry>;
  report: { mass_kg: Maybe; sex: string; readings: Reading[]; pairs: Pair[]; pains: { test: string; side: TestSide; pain: number; refer: boolean; text: string }[] };
  suggested: Pointer[];
  left_out: Pointer[];
  filmed: Filmed[];
}

/** What is filled in: the rest follows from it. */
export interface Sheet {
  version: number;
  entries: Record<string, Entry>;
}

/** What was read from a film and neither kept nor put aside yet. */
export interface Filmed {
  id: string;
  clip: string;
  test: string;
  side: TestSide;
  trials: Trial[];
  times_s: number[];
  spread_deg: Maybe;
  noise_deg: Maybe;
  text: string;
  warnings: string[];
}

const id = encodeURIComponent;

async function json<T>(path: string, method = "GET", body?: unknown): Promise<T> {
  const more: RequestInit = method === "GET" ? {} : { method, body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  return (await ask(path, more)).json() as Promise<T>;
}

let tests: Promise<Test[]> | null = null;

/** The catalogue, fetched once. */
export function catalogue(): Promise<Test[]> {
  tests ??= json<{ tests: Test[] }>("/api/exam/tests").then((c) => c.tests);
  tests.catch(() => (tests = null));
  return tests;
}

export const exam = (visit: string) => json<Exam>(`/api/visits/${id(visit)}/exam`);
export const putExam = (visit: string, s: Sheet) => json<Exam>(`/api/visits/${id(visit)}/exam`, "PUT", { version: s.version, entries: s.entries });
export const addTable = (visit: string, version: number, table: string) => json<Exam>(`/api/visits/${id(visit)}/exam/table`, "POST", { version, table });
export const readFilm = (visit: string, clip: string, test: string, side: string) => json<Job>(`/api/visits/${id(visit)}/exam/film`, "POST", { clip, test, side });
export const keepFilmed = (visit: string, filmed: string) => json<Exam>(`/api/visits/${id(visit)}/exam/film/${id(filmed)}/keep`, "POST", {});
export const putAside = (visit: string, filmed: string) => json<Exam>(`/api/visits/${id(visit)}/exam/film/${id(filmed)}`, "DELETE");
