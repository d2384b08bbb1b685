// How a change is told.
import { numberText } from "../logic/number";
import { unitText } from "../logic/measures";
import { back } from "../text/return";
import type { Change, Reason } from "./api";

const viewed = (code: string, v: string) => (code === "view" ? (back.view[v] ?? v) : v);

/** A reason in the language in use, or as the server said it. */
export const reasonText = (r: Reason, said = ""): string => back.reason[r.code]?.(viewed(r.code, r.before), viewed(r.code, r.after)) ?? said;

export const valueText = (v: number | null, c: { decimals: number; unit: string }): string => (v === null ? "–" : numberText(v, c.decimals) + unitText(c.unit));

export const signed = (v: number, decimals: number): string => (v > 0 && Number(v.toFixed(decimals)) !== 0 ? "+" : "") + numberText(v, decimals);

/** The change with its interval. */
export const changeText = (c: Change): string =>
  c.difference === null ? "–" : back.interval(signed(c.difference, c.decimals), numberText(c.low!, c.decimals), numberText(c.high!, c.decimals));

/** The left and right of one measure, or of one test, together. */
export interface Pair {
  key: string;
  title: string;
  group: string;
  test: boolean;
  stage: string;
  unit: string;
  parts: Change[];
}

export function pairs(changes: readonly Change[]): Pair[] {
  const out = new Map<string, Pair>();
  for (const c of changes) {
    const key = `${c.test ? "test" : "film"}/${c.name}/${c.stage}`;
    const have = out.get(key);
    if (have) have.parts.push(c);
    else out.set(key, { key, title: c.title, group: c.group, test: c.test, stage: c.stage, unit: c.unit, parts: [c] });
  }
  return [...out.values()];
}
