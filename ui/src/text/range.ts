// A reference range in words.
import type { Measure, Range } from "../api";
import { numberText } from "../logic/measures";
import { t } from ".";

/** The ends of a range with the decimals of its measure, without the unit. */
export function rangeText(r: Range, m: Measure): string {
  const text = (v: number) => numberText(v, m.decimals);
  if (r.low === null) return r.high === null ? "" : t.range.upTo(text(r.high));
  return r.high === null ? t.range.from(text(r.low)) : t.range.between(text(r.low), text(r.high));
}
