// What the server sends, field for field. Unknown numbers are null; times are
// seconds on the clip's own clock.

export type Side = "left" | "right" | "both";
export type View = "left" | "right" | "rear" | "front" | "spatial";
export type Maybe = number | null;

export interface Summary {
  id: string;
  created: string;
  runner: string;
  studio: string;
  views: View[] | null;
  speed_mps: Maybe;
  step_rate: Maybe;
}

export interface Session extends Summary {
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

async function get<T>(path: string): Promise<T> {
  const res = await fetch(path, { headers: { Accept: "application/json" } });
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
export const track = (id: string, clip: number) => get<Track>(`${at(id)}/clips/${clip}/track`);
export const definitions = () => get<Definition[]>("/api/measures");
export const framePath = (id: string, clip: number, frame: number) => `${at(id)}/clips/${clip}/frames/${frame}`;
export const reportPath = (id: string) => `${at(id)}/report.pdf`;
