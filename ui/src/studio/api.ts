// The records of the studio as the server sends them. Unknown numbers are null;
// days are YYYY-MM-DD.
import { answered } from "./expected";
import type { Maybe, View } from "../api";
import { saidBy } from "../api";
import { prefs } from "../prefs.svelte";

export const stationNames = ["intake", "film", "measure", "exam", "findings", "plan", "handout", "return"] as const;
export type StationName = (typeof stationNames)[number];
export type StationState = "empty" | "part" | "done" | "stopped";

export interface Want {
  code: string;
  text: string;
  /** Whether the station is unfinished without it. */
  needed?: boolean;
  /** The clip it is about. */
  clip?: string;
}

/** Something to mind that does not stop the visit. */
export interface Caution {
  code: string;
  text: string;
  source: string;
}

export interface RunnerRow {
  id: string;
  name: string;
  sex: string;
  born_year: Maybe;
  visits: number;
  last_visit: string | null;
  last_visit_id: string;
  tags: string[] | null;
}

export interface RunnerPage {
  rows: RunnerRow[] | null;
  next: string;
  tags: string[] | null;
}

export interface Consent {
  filming: string | null;
  records: string | null;
  research: string | null;
  /** To keeping where runs were. */
  positions: string | null;
}

export interface VisitRow {
  id: string;
  date: string;
  stations_done: number;
  tags: string[] | null;
}

export interface Runner {
  id: string;
  version: number;
  name: string;
  sex: "female" | "male" | "";
  born_year: Maybe;
  height_m: Maybe;
  mass_kg: Maybe;
  leg_length_m: Maybe;
  leg_length_how: "measured" | "estimated" | "";
  consent: Consent;
  /** What the consents, as they stand, mean. */
  consent_text?: string;
  note: string;
  visits?: VisitRow[] | null;
}

export type PainSide = "left" | "right" | "middle";
export type Face = "front" | "back";

export interface Pain {
  region: string;
  side: PainSide;
  face: Face;
  score: number;
  since: string;
  when: string;
  note: string;
}

export interface Training {
  km_per_week: Maybe;
  runs_per_week: Maybe;
  years: Maybe;
  longest_km: Maybe;
  easy_pace_s_per_km: Maybe;
  recent_change: string;
}

export interface Clearance {
  by: string;
  date: string;
  note: string;
  /** The signs, the painful tests and the pains too much it speaks of, filled in by the server. */
  signs?: string[];
  tests?: string[];
  pains?: { region: string; side: string; score: number }[];
}

export interface Intake {
  version: number;
  training: Training;
  shoes: string;
  goals: string;
  history: string;
  complaint: string;
  pain: Pain[];
  /** Asked, and nothing hurts now. */
  no_pain: boolean;
  signs: Record<string, "yes" | "no">;
  /** Where the signs are that ask for it. */
  places: Record<string, SignPlace>;
  cleared: Clearance | null;
}

export interface Sign {
  id: string;
  question: string;
  act: "emergency" | "refer";
  why: string;
  source: string;
  group?: string;
  /** For which regions there is no programme before a clearance; none is the whole body. */
  regions: string[];
  /** Asks where on the body. */
  ask: boolean;
}

export interface SignPlace {
  region: string;
  side: "left" | "right" | "middle";
}

export interface Region {
  id: string;
  title: string;
  face: Face | "";
  sided: boolean;
}

export interface PainStep {
  from: number;
  to: number;
  name: string;
  text: string;
}

export interface Form {
  signs: Sign[];
  regions: Region[];
  pain_scale: { text: string; source: string; steps?: PainStep[] | null };
}

export interface Scale {
  x1: number;
  y1: number;
  x2: number;
  y2: number;
  length_m: number;
  frame: number;
}

export interface ClipFacts {
  view: View | "";
  speed_mps: Maybe;
  incline_percent: Maybe;
  shoes: string;
  capture_rate_hz: Maybe;
  overground: boolean;
  scale: Scale | null;
  belt: { length_m: number; seam_times_s: number[] } | null;
  start_s: Maybe;
  end_s: Maybe;
  roll_deg: Maybe;
  yaw_deg: Maybe;
  camera_distance_m: Maybe;
  point: { x: number; y: number; time_s: number } | null;
  model: "" | "lite" | "full" | "heavy";
  static_of: string;
  /** The test of the exam that it shows; empty or absent where it shows running. */
  test?: string;
  /** Whether a click ran in the runner's ear; empty or absent where not said. */
  click?: "" | "with" | "without";
}

export interface StudioClip {
  id: string;
  version: number;
  visit_id: string;
  name: string;
  kind: string;
  bytes: number;
  facts: ClipFacts;
  width_px: number;
  height_px: number;
  frame_rate_hz: Maybe;
  duration_s: Maybe;
  frames: number;
  problem: string;
  missing: Want[] | null;
  track: "none" | "queued" | "running" | "done" | "failed";
  poster: string | null;
  warnings: string[] | null;
  /** What the passes of the seam say of the belt's speed. */
  belt?: BeltCheck | null;
}

export interface Job {
  id: string;
  visit_id: string;
  clip_id: string;
  kind: string;
  /** Of a film that is drawn. */
  view?: View;
  /** Of the exam, with its side, that is read from a film. */
  test?: string;
  side?: "left" | "right";
  state: "queued" | "running" | "done" | "failed" | "cancelled";
  share: number;
  message: string;
  left_s: Maybe;
  started: string | null;
  ended: string | null;
  outcome: string;
}

export interface ResultRow {
  id: string;
  created: string;
  current: boolean;
  /** Whether something it rests on was changed since. */
  stale?: boolean;
  model: string;
  step_rate: Maybe;
  clip_ids: string[] | null;
}

export interface Refer {
  signs: Sign[] | null;
  text: string;
  cleared: Clearance | null;
}

export interface VisitView {
  id: string;
  version: number;
  date: string;
  note: string;
  runner: Runner;
  stations: { name: StationName; state: StationState; missing: Want[] | null }[];
  next: { station: StationName; code: string; text: string } | null;
  refer: Refer | null;
  cautions?: Caution[] | null;
  intake: Intake | null;
  clips: StudioClip[] | null;
  results: ResultRow[] | null;
  jobs: Job[] | null;
  undo: string;
  redo: string;
}

export interface BeltCheck {
  speed_mps: number;
  sd: number;
  said: Maybe;
  difference_percent: Maybe;
  /** Whether that is within the error of the check. */
  agrees: boolean;
  text: string;
}

/** When each frame of a clip was: on the file's clock and, with slow motion taken out, in truth. */
export interface ClipTimes {
  time_s: number[];
  true_s?: number[] | null;
}

export interface Lan {
  on: boolean;
  urls: string[] | null;
  qr: string | null;
  /** Of the certificate, as browsers show it. */
  fingerprint?: string;
}

/** What the server said no to, in its own sentence. */
export class Refusal extends Error {
  constructor(
    readonly status: number,
    sentence: string,
  ) {
    super(sentence);
  }
}

export async function ask(path: string, more?: RequestInit): Promise<Response> {
  if (!more || Object.keys(more).length === 0) {
    const early = await answered(path)?.catch(() => undefined);
    if (early) return early;
    more = {};
  }
  const headers = new Headers(more.headers);
  if (!headers.has("Accept")) headers.set("Accept", "application/json");
  // Header values are Latin letters only, so the name goes escaped.
  if (prefs.who) headers.set("Gaitwright-Who", encodeURIComponent(prefs.who));
  const res = await fetch(path, { ...more, headers });
  if (!res.ok) throw new Refusal(res.status, await saidBy(res));
  return res;
}

/** Asks for JSON. */
export async function json<T>(path: string, method = "GET", body?: unknown): Promise<T> {
  const more: RequestInit = method === "GET" ? {} : { method };
  if (body !== undefined) {
    more.body = JSON.stringify(body);
    more.headers = { "Content-Type": "application/json" };
  }
  return (await ask(path, more)).json() as Promise<T>;
}

const id = encodeURIComponent;

export interface Search {
  q?: string;
  tag?: string;
  from?: string;
  to?: string;
  after?: string;
  limit?: number;
}

export function runners(search: Search): Promise<RunnerPage> {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(search)) if (value) query.set(name, String(value));
  return json(`/api/runners?${query}`);
}

export const runner = (r: string) => json<Runner>(`/api/runners/${id(r)}`);
export const addRunner = (name: string) => json<Runner>("/api/runners", "POST", { name });
/** Writes a runner; with a visit the change can be undone there. */
export const putRunner = (r: Runner, visit = "") => json<Runner>(`/api/runners/${id(r.id)}${visit ? `?visit=${id(visit)}` : ""}`, "PUT", r);
export const beginVisit = (r: string, date: string) => json<VisitView>(`/api/runners/${id(r)}/visits`, "POST", { date });
export const visit = (v: string) => json<VisitView>(`/api/visits/${id(v)}`);
export const putIntake = (v: string, i: Intake) => json<VisitView | Intake>(`/api/visits/${id(v)}/intake`, "PUT", i);
export const undo = (v: string) => json<VisitView>(`/api/visits/${id(v)}/undo`, "POST", {});
export const redo = (v: string) => json<VisitView>(`/api/visits/${id(v)}/redo`, "POST", {});
export const intakeForm = () => json<Form>("/api/intake/form");
export const putClip = (c: StudioClip) => json<StudioClip>(`/api/clips/${id(c.id)}`, "PUT", { version: c.version, facts: c.facts, name: c.name });
export const removeClip = (c: StudioClip) => json<VisitView>(`/api/clips/${id(c.id)}?version=${c.version}`, "DELETE");
export const clipFrame = (c: string, n: number) => `/api/clips/${id(c)}/frames/${n}`;
export const clipTimes = (c: string) => json<ClipTimes>(`/api/clips/${id(c)}/times`);
export const beltCheck = (c: string) => json<BeltCheck>(`/api/clips/${id(c)}/belt`);
export const measureVisit = (v: string, clips: string[], model: string) => json<Job>(`/api/visits/${id(v)}/measure`, "POST", { clips, ...(model ? { model } : {}) });
export const cancelJob = (j: string) => json<Job>(`/api/jobs/${id(j)}/cancel`, "POST", {});
/** The visit of an invented runner, whose films are then drawn. */
export const tryOut = (language: string) => json<{ visit_id: string }>("/api/tryout", "POST", { language });
export const lan = () => json<Lan>("/api/lan");
export const studioSettings = () => json<{ studio: string }>("/api/settings");
export const putStudioSettings = (s: { studio: string }) => json<{ studio: string }>("/api/settings", "PUT", s);
