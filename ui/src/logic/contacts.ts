// Where in the stride a moment lies.
import type { Contact } from "../api";
import { clamp } from "./clock";

export type Foot = "left" | "right";
export const feet: readonly Foot[] = ["left", "right"];

/** A moment within a stride, which begins at initial contact. */
export interface Place {
  /** Which stride of this foot, from 0; outside the strides it is extrapolated. */
  stride: number;
  /** 0 at initial contact, toward 1 at the same foot's next. */
  phase: number;
  /** False before the first contact, after the last, and where a contact was missed. */
  inside: boolean;
}

const times = (contacts: readonly Contact[], foot: Foot) => contacts.filter((c) => c.side === foot).map((c) => c.initial_contact_s);

function median(list: number[]): number {
  const sorted = [...list].sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
}

/** A stride longer than this many usual ones lacks a contact. */
const missed = 1.6;

/** Where time t lies in the strides of a foot; null with fewer than two contacts. */
export function placeAt(contacts: readonly Contact[], foot: Foot, t: number): Place | null {
  const starts = times(contacts, foot);
  if (starts.length < 2) return null;
  const usual = median(starts.slice(1).map((s, i) => s - starts[i]!));
  let i = 0;
  while (i + 2 < starts.length && t >= starts[i + 1]!) i++;
  const start = starts[i]!;
  const length = starts[i + 1]! - start;
  if (t >= start && t < start + length) {
    if (length <= usual * missed) return { stride: i, phase: (t - start) / length, inside: true };
    const phase = (t - start) / usual;
    return { stride: i, phase: phase - Math.floor(phase), inside: false };
  }
  const edge = t < start ? { at: start, stride: i } : { at: start + length, stride: i + 1 };
  const away = (t - edge.at) / usual;
  return { stride: edge.stride + Math.floor(away), phase: away - Math.floor(away), inside: false };
}

/** The time at a place in the strides of another clip; strides are counted round. */
export function timeAt(contacts: readonly Contact[], foot: Foot, place: Place): number | null {
  const starts = times(contacts, foot);
  const n = starts.length - 1;
  if (n < 1) return null;
  const i = ((place.stride % n) + n) % n;
  return starts[i]! + place.phase * (starts[i + 1]! - starts[i]!);
}

/** Whether the foot is on the ground at time t; null where the contacts do not reach. */
export function onGround(contacts: readonly Contact[], foot: Foot, t: number): boolean | null {
  if (contacts.some((c) => c.side === foot && c.initial_contact_s <= t && t < c.toe_off_s)) return true;
  return placeAt(contacts, foot, t)?.inside ? false : null;
}

export type Moment = "initial_contact_s" | "toe_off_s";

/**
 * The frame of the next (or, with by = -1, previous) contact or toe-off of
 * either foot from frame `from`; null where there is none. It is the first frame
 * at or after the moment, the first that shows it.
 */
export function momentFrame(contacts: readonly Contact[], clock: readonly number[], from: number, by: 1 | -1, which: Moment): number | null {
  let best: number | null = null;
  for (const c of contacts) {
    const frame = firstShowing(clock, c[which]);
    if (by > 0 ? frame <= from : frame >= from) continue;
    if (best === null || (by > 0 ? frame < best : frame > best)) best = frame;
  }
  return best;
}

/** The first frame at or after t, with a microsecond's grace for rounding. */
export function firstShowing(clock: readonly number[], t: number): number {
  let lo = 0;
  let hi = clock.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (clock[mid]! < t - 1e-6) lo = mid + 1;
    else hi = mid;
  }
  return clamp(lo, 0, clock.length - 1);
}
