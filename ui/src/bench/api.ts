// What the bench asks of the server, and what it gets.
import type { Contact, Maybe, Session, Side } from "../api";
import { saidBy } from "../api";
import { prefs } from "../prefs.svelte";

/** A landmark placed by hand; frames are those of the file. */
export interface Move {
  landmark: string;
  frame: number;
  x: number;
  y: number;
  blend: number;
  error_px?: number;
}

export type Part = "legs" | "arms";

export interface Swap {
  from: number;
  to: number;
  part: Part;
}

export interface Edits {
  version: number;
  landmarks: Move[];
  swaps: Swap[];
  placed: Contact[];
  removed: Contact[];
  undo: string;
  redo: string;
}

export interface Change {
  clip: number;
  name: string;
  title: string;
  side: Side;
  unit: string;
  before: Maybe;
  after: Maybe;
  /** The values in words, as the class of the foot strike. */
  before_text?: string;
  after_text?: string;
  sem: Maybe;
  beyond_error: boolean;
  decimals: number;
  reason?: string;
}

export interface TrackChange {
  landmarks: { landmark: string; from: number; x: Maybe[]; y: Maybe[]; confidence: Maybe[] }[];
  series: { key: string; from: number; whole: boolean; title: string; unit: string; values: Maybe[] }[];
  /** More differs, by less than can be seen; the whole track, read anew, has it. */
  rest?: boolean;
}

/** What a correction changes. */
export interface Effect {
  /** Where it is only tried, with those clips alone that it changes. */
  session: Session;
  track: TrackChange;
  changed: Change[];
  since: Change[];
}

/** What was done; its effect is left out where it is on show already. */
export interface Kept {
  what: string;
  edits: Edits;
}

export type Corrected = Kept & Effect;

/** A place worth checking; frames are samples of the clip. */
export interface Doubt {
  reason: "unsure" | "jump" | "unseen" | "contact";
  frame: number;
  from: number;
  to: number;
  time_s: number;
  landmark: string;
  side: Side;
  confidence: Maybe;
  jump_px: Maybe;
  effect: number;
  measure: string;
  title: string;
  measure_side: Side;
  change: Maybe;
  unit: string;
  decimals: number;
  why: string;
}

/** A refusal because someone else was first. */
export class Stale extends Error {}

async function ask<T>(path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const headers: Record<string, string> = { Accept: "application/json" };
  if (prefs.who) headers["Gaitwright-Who"] = encodeURIComponent(prefs.who);
  const more: RequestInit = body === undefined ? { headers, signal } : { method: "POST", headers: { ...headers, "Content-Type": "application/json" }, body: JSON.stringify(body) };
  const res = await fetch(path, more);
  if (res.status === 409) throw new Stale(await saidBy(res));
  if (!res.ok) throw new Error(await saidBy(res));
  return (await res.json()) as T;
}

const at = (id: string, clip: number) => `/api/results/${encodeURIComponent(id)}/clips/${clip}`;

export const edits = (id: string, clip: number) => ask<Edits>(`${at(id, clip)}/edits`);
export const doubts = (id: string, clip: number, signal: AbortSignal) => ask<Doubt[]>(`${at(id, clip)}/check`, undefined, signal);
const asked = (what: string, e: Edits, more: { try?: true; shown?: true }) => ({
  version: e.version,
  what,
  ...more,
  edits: { version: e.version, landmarks: e.landmarks, swaps: e.swaps, placed: e.placed, removed: e.removed, undo: "", redo: "" },
});
/** Replaces a clip's corrections. What is `shown` already is not told again. */
export const correct = (id: string, clip: number, what: string, e: Edits, shown = false) => ask<Kept | Corrected>(`${at(id, clip)}/edits`, asked(what, e, shown ? { shown: true } : {}));
/** Only asks what corrections would change. */
export const tryOut = (id: string, clip: number, e: Edits, signal: AbortSignal) => ask<Corrected>(`${at(id, clip)}/edits`, asked("", e, { try: true }), signal);
export const undo = (id: string, clip: number) => ask<Corrected>(`${at(id, clip)}/undo`, {});
export const redo = (id: string, clip: number) => ask<Corrected>(`${at(id, clip)}/redo`, {});
