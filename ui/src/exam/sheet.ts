// What follows from the entries of an exam: which are there, what comes next,
// and how numbers are read and said.
import { numberText, readNumber, shortNumber } from "../logic/number";
import { read, say as sayUnit } from "../logic/units";
import type { Units } from "../prefs.svelte";
import type { Entry, Pointer, Stage, Test, TestSide, Trial } from "./api";

export type ForceUnit = "N" | "kgf" | "lbf";

const newtons: Record<ForceUnit, number> = { N: 1, kgf: 9.80665, lbf: 4.4482216152605 };
const spelled: Record<string, ForceUnit> = { n: "N", newton: "N", kgf: "kgf", kg: "kgf", kp: "kgf", lbf: "lbf", lb: "lbf", lbs: "lbf" };
const near = "\u202f";

/** A force in newtons; a bare number is in the unit of the dynamometer. */
export function readForce(text: string, unit: ForceUnit): number | null {
  const found = /^([+\-−]?[\d.,]+)\s*([a-z]*)\.?$/.exec(text.trim().toLowerCase().replaceAll(near, " "));
  const v = found ? readNumber(found[1]!) : null;
  const u = found?.[2] ? spelled[found[2]] : unit;
  return v === null || !u || v <= 0 ? null : v * newtons[u];
}

export const sayForce = (n: number, unit: ForceUnit): string => shortNumber(n / newtons[unit], unit === "N" ? 0 : 1) + near + unit;

/** A lever arm in metres. */
export const readLever = (text: string, units: Units): number | null => {
  const m = read(text, "length", units);
  return m !== null && m > 0 ? m : null;
};

/** A reading in the test's own unit. */
export function readValue(text: string, unit: string, units: Units): number | null {
  const t = text.trim().replaceAll(near, " ");
  if (unit === "cm") {
    const bare = readNumber(t);
    // Unlike a height, a few centimetres are never metres.
    if (bare !== null) return units === "us" ? bare * 2.54 : bare;
    const m = read(t, "length", units);
    return m === null ? null : m * 100;
  }
  const v = readNumber(t.replace(/\s*(°|deg|degrees|grad|s|sec|x|×|reps?)\.?$/i, ""));
  return v !== null && unit === "repetitions" && !Number.isInteger(v) ? null : v;
}

/** A value with its unit. */
export function sayValue(v: number, unit: string, units: Units, names: Record<string, string>): string {
  switch (unit) {
    case "cm":
      return units === "us" ? shortNumber(v / 2.54, 1) + near + "in" : shortNumber(v, 1) + near + "cm";
    case "deg":
      return shortNumber(v, 1) + "°";
    case "Nm/kg":
      return numberText(v, 2) + near + "Nm/kg";
    case "s":
      return shortNumber(v, 1) + near + "s";
  }
  return shortNumber(v, 1) + near + (names[unit] ?? unit);
}

/** A trial in words. */
export function sayTrial(t: Trial, test: Test, unit: ForceUnit, units: Units, names: Record<string, string>): string {
  if (t.force_n !== null) return sayForce(t.force_n, unit) + (t.lever_m === null ? "" : ` × ${sayUnit(t.lever_m, "length", units)}`);
  return t.value === null ? "" : sayValue(t.value, test.unit, units, names);
}

export function keyOf(test: string, side: TestSide, stage: Stage = ""): string {
  if (stage) return `${test}/${side}/${stage}`;
  return side ? `${test}/${side}` : test;
}

export type Entries = Record<string, Entry>;

export const counts = (t: Trial): boolean => !t.invalid && t.pain === 0;

export type State = "none" | "part" | "done" | "pain";

/** How far a test is on a side, over its stages. */
export function stateOf(entries: Entries, test: Test, side: TestSide): State {
  const own = (["", "before", "after"] as Stage[]).flatMap((s) => entries[keyOf(test.name, side, s)]?.trials ?? []);
  if (own.some((t) => t.pain > 0)) return "pain";
  const n = own.filter(counts).length;
  if (n >= test.trials) return "done";
  return own.length ? "part" : "none";
}

export const sidesOf = (t: Test): TestSide[] => (t.sided ? ["left", "right"] : [""]);

export interface Place {
  test: string;
  side: TestSide;
}

/** Where to go on from a test and side: its other side where this one is begun, then the next suggested test that is not begun. */
export function nextPlace(tests: Test[], entries: Entries, suggested: Pointer[], at: Place): Place | null {
  const here = tests.find((t) => t.name === at.test);
  if (here) {
    const other = sidesOf(here).find((s) => s !== at.side && stateOf(entries, here, s) === "none");
    const state = stateOf(entries, here, at.side);
    if (other !== undefined && state !== "none" && state !== "pain") return { test: here.name, side: other };
  }
  for (const s of suggested) {
    const t = tests.find((x) => x.name === s.test);
    if (t && t.name !== at.test && sidesOf(t).every((side) => stateOf(entries, t, side) === "none")) return { test: t.name, side: sidesOf(t)[0]! };
  }
  return null;
}

/** The lever arm used last for a test: on this side, else on the other. */
export function lastLever(entries: Entries, test: string, side: TestSide): number | null {
  const other: TestSide = side === "left" ? "right" : "left";
  for (const s of [side, other]) {
    const t = entries[keyOf(test, s)]?.trials.findLast((x) => x.lever_m !== null);
    if (t) return t.lever_m;
  }
  return null;
}

export const blankTrial = (more: Partial<Trial>): Trial => ({ value: null, force_n: null, lever_m: null, invalid: "", pain: 0, clip: "", ...more });
