import { numberText, shortUnit } from "../logic/measures";
import { bench } from "../text/bench";

/** A value as it stands in a change; that it is not given where there is none. */
export const changeText = (v: number | null, c: { decimals: number; unit: string }): string => (v === null ? bench.changes.withheld : numberText(v, c.decimals) + shortUnit(c.unit));
