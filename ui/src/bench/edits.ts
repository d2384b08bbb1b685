// Corrections as values: each function gives new ones and leaves the old alone.
import type { Contact, Maybe, Series, Track } from "../api";
import { firstShowing } from "../logic/contacts";
import type { Edits, Move, Part, Swap, TrackChange } from "./api";

const legs = /^(left|right)_(hip|knee|ankle|heel|toe|mt1|mt5|heel_top|heel_bottom|shank_top|shank_bottom)$/;
const arms = /^(left|right)_(shoulder|elbow|wrist|little_knuckle|index_knuckle|thumb)$/;

export const partOf = (landmark: string): Part | null => (legs.test(landmark) ? "legs" : arms.test(landmark) ? "arms" : null);

export function mirrored(landmark: string): string {
  return landmark.startsWith("left_") ? "right_" + landmark.slice(5) : landmark.startsWith("right_") ? "left_" + landmark.slice(6) : landmark;
}

/** Places a landmark in a frame, in place of what was said of it there before. */
export function placed(e: Edits, move: Move): Edits {
  return { ...e, landmarks: [...e.landmarks.filter((m) => m.landmark !== move.landmark || m.frame !== move.frame), move] };
}

/** Takes back what was said of a landmark in a frame. */
export function unplaced(e: Edits, landmark: string, frame: number): Edits {
  return { ...e, landmarks: e.landmarks.filter((m) => m.landmark !== landmark || m.frame !== frame) };
}

/**
 * Exchanges left and right of parts from a frame to another, both included. What
 * was placed by hand there changes its name with the rest; the server makes two
 * exchanges of the same frames none.
 */
export function exchanged(e: Edits, from: number, to: number, parts: readonly Part[]): Edits {
  const inside = (m: Move) => m.frame >= from && m.frame <= to && parts.includes(partOf(m.landmark)!);
  return {
    ...e,
    swaps: [...e.swaps, ...parts.map((part): Swap => ({ from, to, part }))],
    landmarks: e.landmarks.map((m) => (inside(m) ? { ...m, landmark: mirrored(m.landmark) } : m)),
  };
}

const together = (a: Contact, b: Contact) => a.side === b.side && a.initial_contact_s < b.toe_off_s && b.initial_contact_s < a.toe_off_s;

/** The shortest and longest contact that the server takes, seconds, with a little room. */
export const shortest = 0.035;
export const longest = 1.4;

/** Moves a contact that stands (found or placed) to other times. */
export function contactMoved(e: Edits, old: Contact, now: Contact): Edits {
  const placed = [...e.placed.filter((c) => !(old.edited && together(c, old))), { ...now, edited: true, doubt: undefined }];
  // A found contact gives way to one that overlaps it; one that does not would
  // stand beside the old one.
  const removed = together(old, now) || old.edited ? e.removed : [...e.removed, bare(old)];
  return { ...e, placed, removed };
}

/** Takes a contact out, and the found one under it where it was placed. */
export function contactRemoved(e: Edits, old: Contact): Edits {
  return { ...e, placed: e.placed.filter((c) => !(old.edited && together(c, old))), removed: [...e.removed, bare(old)] };
}

export function contactAdded(e: Edits, now: Contact): Edits {
  return { ...e, placed: [...e.placed, { ...now, edited: true, doubt: undefined }] };
}

const bare = (c: Contact): Contact => ({ side: c.side, initial_contact_s: c.initial_contact_s, toe_off_s: c.toe_off_s, edited: false });

export type Edge = "ic" | "to";

/**
 * The contact with one end at another time, kept between the same foot's
 * neighbours and within what a contact can last.
 */
export function edgeAt(contacts: readonly Contact[], c: Contact, edge: Edge, timeS: number): Contact {
  const same = contacts.filter((k) => k.side === c.side && k !== c);
  const gap = 0.01;
  if (edge === "ic") {
    const before = Math.max(-Infinity, ...same.filter((k) => k.toe_off_s <= c.initial_contact_s + 1e-9).map((k) => k.toe_off_s + gap));
    return { ...c, initial_contact_s: Math.max(before, c.toe_off_s - longest, Math.min(timeS, c.toe_off_s - shortest)) };
  }
  const after = Math.min(Infinity, ...same.filter((k) => k.initial_contact_s >= c.toe_off_s - 1e-9).map((k) => k.initial_contact_s - gap));
  return { ...c, toe_off_s: Math.min(after, c.initial_contact_s + longest, Math.max(timeS, c.initial_contact_s + shortest)) };
}

/** The end of a contact some frames on: from the first frame that shows it. */
export function edgeNudged(contacts: readonly Contact[], clock: readonly number[], c: Contact, edge: Edge, by: number): Contact {
  const at = edge === "ic" ? c.initial_contact_s : c.toe_off_s;
  const frame = Math.max(0, Math.min(clock.length - 1, firstShowing(clock, at) + by));
  return edgeAt(contacts, c, edge, clock[frame]!);
}

/** A new contact from time t, as long as the usual one; null where the foot is down already. */
export function contactFrom(contacts: readonly Contact[], side: "left" | "right", t: number, endS: number): Contact | null {
  const same = contacts.filter((c) => c.side === side);
  if (same.some((c) => c.initial_contact_s <= t && t < c.toe_off_s)) return null;
  const lengths = contacts.map((c) => c.toe_off_s - c.initial_contact_s).sort((a, b) => a - b);
  const usual = lengths.length ? lengths[lengths.length >> 1]! : 0.25;
  const after = Math.min(endS, ...same.filter((c) => c.initial_contact_s > t).map((c) => c.initial_contact_s - 0.01));
  const to = Math.min(t + usual, after);
  return to - t < shortest ? null : { side, initial_contact_s: t, toe_off_s: to, edited: true };
}

/** The track with a correction's changes in it; what did not change is shared. */
export function patched(track: Track, change: TrackChange, factor: (unit: string) => { unit: string; factor: number } | null): Track {
  if (!change.landmarks.length && !change.series.length) return track;
  const x = [...track.x];
  const y = [...track.y];
  const confidence = track.confidence ? [...track.confidence] : null;
  for (const c of change.landmarks) {
    const i = track.landmarks.indexOf(c.landmark);
    if (i < 0) continue;
    x[i] = laid(x[i]!, c.from, c.x);
    y[i] = laid(y[i]!, c.from, c.y);
    if (confidence) confidence[i] = laid(confidence[i]!, c.from, c.confidence);
  }
  const series = { ...track.series };
  for (const s of change.series) {
    const to = factor(s.unit);
    const values = to ? s.values.map((v) => (v === null ? null : v * to.factor)) : s.values;
    const [name, side] = s.key.split("/") as [string, Series["side"]];
    if (s.whole && !values.length) delete series[s.key];
    else if (s.whole || !series[s.key]) series[s.key] = { name, side, title: s.title, unit: to?.unit ?? s.unit, values };
    else series[s.key] = { ...series[s.key]!, values: laid(series[s.key]!.values, s.from, values) };
  }
  return { ...track, x, y, confidence, series };
}

function laid(old: readonly Maybe[], from: number, part: readonly Maybe[]): Maybe[] {
  const out = [...old];
  for (let i = 0; i < part.length; i++) out[from + i] = part[i]!;
  return out;
}

/** How well a point can be placed at a magnification, one standard deviation in pixels: one and a half screen pixels, a third of a picture pixel at best (own assumption). */
export const placingError = (screenPerPixel: number): number => Math.round(Math.max(1 / 3, 1.5 / Math.max(0.05, screenPerPixel)) * 100) / 100;
