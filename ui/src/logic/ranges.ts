// A value beside its reference range.
import type { Measure, Range } from "../api";
import type { Row } from "./measures";

export const rangeOf = (row: Row): Range | undefined => (row.both ?? row.left ?? row.right)?.range ?? row.right?.range;

/** The axis that marks of one row share: their ranges and their values with error, and a little air. */
export function axisOf(row: Row): { lo: number; hi: number } | null {
  const values: number[] = [];
  for (const m of [row.left, row.right, row.both]) {
    const r = m?.range;
    if (!r || m.value === null) continue;
    values.push(m.value - (r.margin_below ?? 0), m.value + (r.margin_above ?? 0));
    if (r.low !== null) values.push(r.low);
    if (r.high !== null) values.push(r.high);
  }
  if (!values.length) return null;
  const lo = Math.min(...values);
  const hi = Math.max(...values);
  const air = (hi - lo || Math.abs(hi) || 1) * 0.06;
  return { lo: lo - air, hi: hi + air };
}

/** Where the parts of a mark stand, from 0 to 1 along the axis. An open end of the range runs off it. */
export function placesOf(m: Measure, axis: { lo: number; hi: number }) {
  const r = m.range!;
  const at = (v: number) => (v - axis.lo) / (axis.hi - axis.lo);
  return {
    low: r.low === null ? 0 : at(r.low),
    high: r.high === null ? 1 : at(r.high),
    value: at(m.value!),
    least: at(m.value! - (r.margin_below ?? 0)),
    most: at(m.value! + (r.margin_above ?? 0)),
  };
}
