// The two or three things of a result that matter most: first the step rate,
// then what lies farthest outside of its range or differs most between left and
// right, each only beyond its error. It ranks, it does not judge.
import type { Clip, Measure } from "../api";
import { difference, rows, type Row } from "./measures";

export interface Headline {
  kind: "value" | "range" | "sides" | "pair";
  row: Row;
  /** The measure that is spoken of; for sides and pairs the right one. */
  measure: Measure;
  /** How many times its error it is beyond, to rank by. */
  weight: number;
}

const most = 3;
const asked = ["contact_time", "overstride", "vertical_oscillation", "trunk_lean"];

/** By how many standard errors a value lies outside of its range; 0 where it does not. */
function outside(m: Measure | undefined): number {
  const r = m?.range;
  if (!m || !r || m.value === null || (r.verdict !== "below" && r.verdict !== "above")) return 0;
  const border = r.verdict === "below" ? r.low : r.high;
  if (border === null) return 0;
  const error = m.sem || Math.abs(border) * 0.05 || 1;
  return Math.abs(m.value - border) / error;
}

function strongest(row: Row): Headline | null {
  let best: Headline | null = null;
  for (const m of [row.left, row.right, row.both]) {
    const weight = outside(m);
    if (weight > (best?.weight ?? 0)) best = { kind: "range", row, measure: m!, weight };
  }
  const d = difference(row);
  if (d?.beyond) {
    const weight = Math.abs(d.value) / Math.hypot(row.left!.sem!, row.right!.sem!);
    if (weight > (best?.weight ?? 0)) best = { kind: "sides", row, measure: row.right!, weight };
  }
  return best;
}

export function headlines(clips: readonly Clip[]): Headline[] {
  const all = rows(clips);
  const out: Headline[] = [];
  const rate = all.find((r) => r.name === "step_rate");
  const rateMeasure = rate?.both ?? rate?.left ?? rate?.right;
  if (rate && rateMeasure && rateMeasure.value !== null) out.push({ kind: outside(rateMeasure) > 0 ? "range" : "value", row: rate, measure: rateMeasure, weight: outside(rateMeasure) });
  const others = all
    .filter((r) => r !== rate)
    .map(strongest)
    .filter((h) => h !== null)
    .sort((a, b) => b.weight - a.weight);
  out.push(...others.slice(0, most - out.length));
  // Where nothing stands out, what a coach asks for first.
  for (const name of asked) {
    if (out.length >= most) break;
    const row = all.find((r) => r.name === name);
    if (!row || out.some((h) => h.row === row)) continue;
    if (row.both && row.both.value !== null && !row.both.text) out.push({ kind: "value", row, measure: row.both, weight: 0 });
    else if (row.left && row.right && row.left.value !== null && row.right.value !== null) out.push({ kind: "pair", row, measure: row.right, weight: 0 });
  }
  return out;
}
