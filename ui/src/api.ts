// What the server sends, field for field. Unknown numbers are null; times are
// seconds on the clip's own clock.

import type { Figure } from "./parts/LineFigure.svelte";

export type Side = "left" | "right" | "both";
export type View = "left" | "right" | "rear" | "front" | "spatial";
export type Maybe = number | null;

export interface Summary {
  id: string;
  /** Empty for one measured outside a visit. */
  visit_id?: string;
  created: string;
  runner: string;
  studio: string;
  views: View[] | null;
  speed_mps: Maybe;
  step_rate: Maybe;
}

export interface Session extends Summary {
  /** Of the visit's clips, in the order of clips; empty outside a visit. */
  clip_ids?: string[] | null;
  height_m: Maybe;
  notes: string[] | null;
  clips: Clip[] | null;
}

export interface Contact {
  side: Side;
  initial_contact_s: number;
  toe_off_s: number;
  edited: boolean;
  doubt?: string;
}

export interface Measure {
  name: string;
  title: string;
  side: Side;
  value: Maybe;
  text?: string;
  unit: string;
  sd: Maybe;
  sem: Maybe;
  mdc95: Maybe;
  strides: number;
  origin: string;
  flag: string;
  reason?: string;
  decimals: number;
  range?: Range;
}

/** What was usual among people measured; an open end is null. */
export interface Range {
  low: Maybe;
  high: Maybe;
  verdict: "inside" | "at the border" | "below" | "above" | "cannot be said";
  margin_below: Maybe;
  margin_above: Maybe;
  reason?: string;
  speed?: string;
  people: number;
  sample: string;
  method: string;
  source: string;
  contested?: string;
  note?: string;
  own: boolean;
}

export interface Curve {
  name: string;
  title: string;
  side: Side;
  unit: string;
  mean: Maybe[];
  sd: Maybe[];
  toe_off_percent: Maybe;
  strides: number;
}

export interface Clip {
  index: number;
  name: string;
  view: View;
  video: boolean;
  width_px: number;
  height_px: number;
  frame_rate_hz: number;
  slowdown: number;
  frames: number;
  first_frame: number;
  belt_speed_mps: Maybe;
  scale: string;
  origin: string;
  contact_method: string;
  contacts: Contact[] | null;
  other_contacts: Contact[] | null;
  measures: Measure[] | null;
  curves: Curve[] | null;
  warnings: string[] | null;
}

export interface Series {
  name: string;
  title: string;
  side: Side;
  unit: string;
  values: Maybe[];
}

export interface Track {
  space: "picture" | "runner";
  unit: "px" | "m";
  time_s: number[];
  landmarks: string[];
  x: Maybe[][];
  y: Maybe[][];
  z?: Maybe[][];
  raw_x?: Maybe[][];
  raw_y?: Maybe[][];
  confidence: Maybe[][] | null;
  bones: [string, string][] | null;
  series: Record<string, Series> | null;
}

export interface Definition {
  name: string;
  title: string;
  group: string;
  unit: string;
  definition: string;
  sign: string;
  formula: string;
  source: string;
  error: string;
  caution: string;
  instead: string;
}

/** What was done anew for each reading. */
export type Repeat = "film" | "clip" | "analyst";

/** What is to be compared: kept results, or a table. */
export interface Readings {
  results?: string[];
  table?: string;
  name?: string;
  measure?: string;
  raters?: string[];
  repeat: Repeat;
}

export interface Coefficient {
  form: string;
  value: Maybe;
  low: Maybe;
  high: Maybe;
}

/** The agreement of two raters, first minus second. */
export interface Limits {
  first: string;
  second: string;
  n: number;
  bias: Maybe;
  sd: Maybe;
  bias_interval: [Maybe, Maybe];
  lower: Maybe;
  lower_interval: [Maybe, Maybe];
  upper: Maybe;
  upper_interval: [Maybe, Maybe];
}

export interface Plot {
  means: Maybe[];
  differences: Maybe[];
}

export interface Agreement {
  measure: string;
  title: string;
  side?: string;
  unit?: string;
  subjects: string[];
  raters: string[];
  left_out: string[];
  icc: Coefficient[];
  sem: Maybe;
  sem_low: Maybe;
  sem_high: Maybe;
  mdc95: Maybe;
  mdc95_low: Maybe;
  mdc95_high: Maybe;
  sem_consistency: Maybe;
  mdc95_consistency: Maybe;
  df: number;
  enough: boolean;
  limits_of_agreement: Limits[];
  plots: Plot[];
}

export interface OwnError {
  measure: string;
  title: string;
  unit: string;
  origin?: string;
  sem: Maybe;
  mdc95: Maybe;
  runners: number;
}

export interface Reliability {
  notes: string[];
  same_film?: string;
  raters: string[];
  series: Agreement[];
  least_runners: number;
  least_df: number;
  adoptable: OwnError[];
  not_adopted: string[];
}

async function get<T>(path: string, more: RequestInit = {}): Promise<T> {
  const res = await fetch(path, { ...more, headers: { Accept: "application/json", ...more.headers } });
  if (!res.ok) throw new Error(await saidBy(res));
  return (await res.json()) as T;
}

/** The server's own sentence about a failure. */
export async function saidBy(res: Response): Promise<string> {
  try {
    const said = (await res.json()) as { error?: unknown };
    if (typeof said.error === "string") return said.error;
  } catch {
    // Not our server's answer; the status has to do.
  }
  return `${res.status} ${res.statusText}`;
}

const at = (id: string) => `/api/results/${encodeURIComponent(id)}`;

export const results = () => get<Summary[]>("/api/results");
export const result = (id: string) => get<Session>(at(id));
export const track = (id: string, clip: number, signal?: AbortSignal) => get<Track>(`${at(id)}/clips/${clip}/track`, { signal });
export const definitions = () => get<Definition[]>("/api/measures");
export const measureFigure = (name: string) => get<Figure>(`/api/measures/${encodeURIComponent(name)}/figure`);
export const framePath = (id: string, clip: number, frame: number) => `${at(id)}/clips/${clip}/frames/${frame}`;
export const reportPath = (id: string, units: "metric" | "us") => `${at(id)}/report.pdf?units=${units}`;

const post = <T>(path: string, body: unknown) => get<T>(path, { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } });
export const reliability = (ask: Readings) => post<Reliability>("/api/reliability", ask);
export const adopt = (ask: Readings) => post<OwnError[]>("/api/reliability/adopt", ask);
/** The largest table that the server takes, in bytes. */
export const maxTable = 5 << 20;
