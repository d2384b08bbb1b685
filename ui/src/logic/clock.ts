// Frames and times. A clip's frames may be unevenly spaced, so every time comes
// from the clip's own list.

/** Index of the frame nearest to time t in ascending times; -1 where there is none. */
export function nearestFrame(times: readonly number[], t: number): number {
  const after = firstAtOrAfter(times, t);
  if (after === 0) return times.length ? 0 : -1;
  if (after === times.length) return times.length - 1;
  return t - times[after - 1]! <= times[after]! - t ? after - 1 : after;
}

/** Index of the frame that is on show at time t: the last at or before it. */
export function frameOnShow(times: readonly number[], t: number): number {
  const after = firstAtOrAfter(times, t);
  if (after < times.length && times[after] === t) return after;
  return Math.max(0, after - 1);
}

/** Index of the first time at or after t; times.length where there is none. */
export function firstAtOrAfter(times: readonly number[], t: number): number {
  let lo = 0;
  let hi = times.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (times[mid]! < t) lo = mid + 1;
    else hi = mid;
  }
  return lo;
}

export const clamp = (v: number, lo: number, hi: number) => Math.min(Math.max(v, lo), hi);

/**
 * The stretch of time that a curve shows: as it was, moved just far enough that
 * the cursor stays off its edges, and kept inside the clip.
 */
export function follow(from: number, width: number, cursor: number, first: number, last: number): number {
  if (last - first <= width) return first;
  const margin = width * 0.15;
  let start = from;
  if (cursor < start + margin) start = cursor - margin;
  if (cursor > start + width - margin) start = cursor - width + margin;
  return clamp(start, first, last - width);
}

/** Round values for an axis from lo to hi, about `count` of them, ends included. */
export function ticks(lo: number, hi: number, count: number): number[] {
  if (!(hi > lo)) {
    lo -= 1;
    hi += 1;
  }
  const rough = (hi - lo) / Math.max(1, count);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough * 0.999) ?? power * 10;
  const out: number[] = [];
  for (let i = Math.floor(lo / step + 1e-9); i <= Math.ceil(hi / step - 1e-9); i++) out.push(Number((i * step).toPrecision(12)));
  return out;
}

/** The range of all numbers in the lists, or null where there is none. */
export function range(lists: Iterable<readonly (number | null)[]>): [number, number] | null {
  let lo = Infinity;
  let hi = -Infinity;
  for (const list of lists)
    for (const v of list)
      if (v !== null) {
        if (v < lo) lo = v;
        if (v > hi) hi = v;
      }
  return lo <= hi ? [lo, hi] : null;
}

/** A time in whole minutes and the seconds over them, rounded to the second. */
export function minutesAndSeconds(timeS: number): [minutes: number, seconds: number] {
  const whole = Math.round(timeS);
  return [Math.floor(whole / 60), whole % 60];
}
