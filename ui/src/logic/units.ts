// Lengths, masses, speeds and paces as people write and read them. Inside the
// program everything is in SI units; here is the only border.
import type { Units } from "../prefs.svelte";
import { numberText, readNumber, shortNumber } from "./number";

const inch = 0.0254;
const pound = 0.45359237;
const mile = 1609.344;

const near = "\u202f"; // a narrow space that does not break

export type Quantity = "height" | "length" | "mass" | "speed" | "pace" | "distance" | "plain";

/**
 * What a person wrote, in SI units (m, kg, m/s, s/m, m), or null where it cannot be understood.
 * The unit of a length without one is that which brings it into what is usual, if any does.
 */
export function read(text: string, what: Quantity, units: Units, usual?: readonly [number, number]): number | null {
  const t = text.trim().toLowerCase().replace(/[′’']/g, "'").replace(/[″”"]|''/g, '"').replaceAll(near, " ");
  if (!t) return null;
  switch (what) {
    case "height":
    case "length":
      return readLength(t, units, what === "height", usual);
    case "mass":
      return readMass(t, units);
    case "speed":
      return readSpeed(t, units);
    case "pace": {
      const v = readSpeed(/^\d+:\d\d$/.test(t) ? t + (units === "us" ? "/mi" : "/km") : t, units);
      return v ? 1 / v : null;
    }
    case "distance":
      return unit(t, units === "us" ? "mi" : "km", { km: 1000, mi: mile, mile: mile, miles: mile, m: 1 });
    case "plain":
      return readNumber(t.replace(/%$/, "").trim());
  }
}

/** A number with one of some units behind it. */
function unit(t: string, usual: string, factors: Record<string, number>): number | null {
  const found = /^([+\-−]?[\d.,]+)\s*([a-z/²%]*)\.?$/.exec(t);
  const v = found ? readNumber(found[1]!) : null;
  const factor = factors[found?.[2] || usual];
  return v === null || factor === undefined ? null : v * factor;
}

function readLength(t: string, units: Units, tall: boolean, usual?: readonly [number, number]): number | null {
  const feet = /^(\d+(?:[.,]\d+)?)\s*(?:'|ft|feet|foot)\s*(?:(\d+(?:[.,]\d+)?)\s*(?:"|in|inch|inches)?)?$/.exec(t);
  if (feet) return (readNumber(feet[1]!)! * 12 + (feet[2] ? readNumber(feet[2])! : 0)) * inch;
  const bare = readNumber(t);
  if (bare !== null) {
    // Without a unit the size tells which one is meant.
    if (tall && bare < 3) return bare;
    if (units === "us" && tall) return bare >= 100 ? bare / 100 : bare < 9 ? bare * 12 * inch : bare * inch;
    const first = units === "us" ? bare * inch : bare < 3 ? bare : bare / 100;
    const fits = (v: number) => !!usual && usual[0] <= v && v <= usual[1];
    return [first, ...(units === "us" ? [bare * 12 * inch] : [bare, bare / 100])].find(fits) ?? first;
  }
  return unit(t.replace('"', "in"), "m", { m: 1, cm: 0.01, mm: 0.001, in: inch, inch: inch, inches: inch });
}

function readMass(t: string, units: Units): number | null {
  const stone = /^(\d+)\s*st(?:one)?\s*(?:(\d+(?:[.,]\d+)?)\s*(?:lb|lbs)?)?$/.exec(t);
  if (stone) return (Number(stone[1]) * 14 + (stone[2] ? readNumber(stone[2])! : 0)) * pound;
  return unit(t, units === "us" ? "lb" : "kg", { kg: 1, lb: pound, lbs: pound, pounds: pound });
}

function readSpeed(t: string, units: Units): number | null {
  const pace = /^(?:(\d+):)?(\d{1,3}):(\d\d(?:[.,]\d+)?)\s*(?:min)?\s*\/?\s*(km|mi|mile)?$/.exec(t);
  if (pace) {
    const s = Number(pace[1] ?? 0) * 3600 + Number(pace[2]) * 60 + readNumber(pace[3]!)!;
    const over = (pace[4] ?? (units === "us" ? "mi" : "km")) === "km" ? 1000 : mile;
    return s > 0 ? over / s : null;
  }
  return unit(t, units === "us" ? "mph" : "km/h", { "m/s": 1, ms: 1, "km/h": 1 / 3.6, kmh: 1 / 3.6, kph: 1 / 3.6, mph: mile / 3600, "mi/h": mile / 3600 });
}

/** A quantity for reading, with its unit. */
export function say(v: number, what: Quantity, units: Units): string {
  const us = units === "us";
  switch (what) {
    case "height": {
      if (!us) return numberText(v * 100, 0) + near + "cm";
      const halves = Math.round((v / inch) * 2) / 2;
      return `${Math.floor(halves / 12)}${near}ft ${shortNumber(halves % 12, 1)}${near}in`;
    }
    case "length":
      if (us) return shortNumber(v / inch, 1) + near + "in";
      return v < 1 ? shortNumber(v * 100, 1) + near + "cm" : shortNumber(v, 3) + near + "m";
    case "mass":
      return us ? numberText(v / pound, 0) + near + "lb" : shortNumber(v, 1) + near + "kg";
    case "speed":
      return us ? numberText((v * 3600) / mile, 1) + near + "mph" : numberText(v * 3.6, 1) + near + "km/h";
    case "pace": {
      const s = Math.round(v * (us ? mile : 1000));
      return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}${near}/${us ? "mi" : "km"}`;
    }
    case "distance":
      return shortNumber(v / (us ? mile : 1000), 1) + near + (us ? "mi" : "km");
    case "plain":
      return shortNumber(v, 3);
  }
}

export const speedText = (mps: number, units: Units): string => say(mps, "speed", units);

/** A speed in both of the metric ways, or in miles an hour beside m/s. */
export const speedLong = (mps: number, units: Units): string =>
  units === "us" ? `${say(mps, "speed", units)} (${numberText(mps, 2)}${near}m/s)` : `${numberText(mps, 2)}${near}m/s (${say(mps, "speed", units)})`;

export interface Turned {
  factor: number;
  unit: string;
  /** How many decimals more, or less, the number wants. */
  decimals: number;
}

/** How a unit of a measure is shown; null where it stays as it is. */
export function turned(unitName: string, units: Units): Turned | null {
  if (units !== "us") return null;
  switch (unitName) {
    case "m":
      return { factor: 1 / inch, unit: "in", decimals: -1 };
    case "cm":
      return { factor: 0.01 / inch, unit: "in", decimals: 1 };
    case "m/s":
      return { factor: 3600 / mile, unit: "mph", decimals: 0 };
    case "kg":
      return { factor: 1 / pound, unit: "lb", decimals: 0 };
  }
  return null;
}
