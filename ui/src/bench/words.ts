import { numberText, shortUnit, unitText } from "../logic/measures";
import { bench } from "../text/bench";
import { told } from "../text/told";

interface Shown {
  decimals: number;
  unit: string;
}

/** A value as it stands in a change, with its words where it has some; that it is not given where there is none. */
export function changeText(v: number | null, c: Shown, words = ""): string {
  if (v === null) return bench.changes.withheld;
  if (c.unit === "class") return bench.changes.strides(told(words), Math.round(100 * v));
  return numberText(v, c.decimals) + shortUnit(c.unit);
}

/** How large a difference or an error is, in a sentence: with its unit, however long; a share says of what. */
export function sizeText(v: number, c: Shown): string {
  if (c.unit === "class") return bench.changes.ofStrides(Math.round(100 * v));
  return c.unit === "" ? bench.changes.ofStride(numberText(v, c.decimals)) : numberText(v, c.decimals) + unitText(c.unit);
}
