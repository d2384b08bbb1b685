// What is said of measures beside their values: what holds for many is said once
// above the table, the rest beside the measure.
import type { Measure } from "../api";

export interface Remarks {
  /** Strides that a steady mean takes, where there are fewer. */
  need: number;
  /** The leg away from the camera. */
  far: boolean;
  /** What stands beside the measure. */
  own: string[];
}

const few = /^only \d+ strides?, (?:about (\d+) needed\b.*|(\d+) or more advised)$/;
const far = /^far leg\b/;
const wild = /^\d+ wild values? left out$/;

export function remarksOf(m: Measure | undefined): Remarks {
  const out: Remarks = { need: 0, far: false, own: [] };
  for (const part of m?.flag ? m.flag.split("; ") : []) {
    const n = few.exec(part);
    if (n) out.need = Math.max(out.need, Number(n[1] ?? n[2]));
    else if (far.test(part)) out.far = true;
    else if (part && !wild.test(part)) out.own.push(part);
  }
  return out;
}

/** What holds for the whole table. */
export function common(all: readonly Measure[]): { few: boolean; far: ("left" | "right")[] } {
  const sides = new Set<"left" | "right">();
  let short = false;
  for (const m of all) {
    const r = remarksOf(m);
    if (r.far && m.side !== "both") sides.add(m.side);
    short ||= r.need > 0;
  }
  return { few: short, far: (["left", "right"] as const).filter((s) => sides.has(s)) };
}
