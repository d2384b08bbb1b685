// Repeated readings: which results go together, amounts in words, and the scales
// of the plot of differences against means.
import type { Limits, Maybe, Plot, Summary } from "../api";
import { ticks } from "./clock";
import { unitText } from "./measures";

export interface Repeated {
  runner: string;
  /** Oldest first. */
  results: Summary[];
}

/** The runners with two results or more, and how many results have no name. */
export function repeated(list: readonly Summary[]): { runners: Repeated[]; unnamed: number } {
  const by = new Map<string, Summary[]>();
  let unnamed = 0;
  for (const r of [...list].sort((a, b) => a.created.localeCompare(b.created))) {
    const name = r.runner.trim();
    if (!name) unnamed++;
    else by.set(name, [...(by.get(name) ?? []), r]);
  }
  const runners = [...by].filter(([, results]) => results.length > 1).map(([runner, results]) => ({ runner, results }));
  return { runners: runners.sort((a, b) => a.runner.localeCompare(b.runner)), unnamed };
}

/** Which reading of its runner a chosen result is, from 1; 0 where it is not chosen. */
export function readingOf(id: string, chosen: readonly string[], results: readonly Summary[]): number {
  return chosen.filter((c) => results.some((r) => r.id === c)).indexOf(id) + 1;
}

/** A number to so many significant digits, never in powers of ten, with a true minus sign. */
export function figure(v: Maybe, digits = 3): string {
  if (v === null) return "–";
  const size = v === 0 ? 0 : Math.floor(Math.log10(Math.abs(Number(v.toPrecision(digits)))));
  if (size > 14 || size < -12) return v.toPrecision(digits).replace("-", "−");
  const text = Math.abs(v).toFixed(Math.max(0, digits - 1 - size));
  return (v < 0 && Number(text) !== 0 ? "−" : "") + text;
}

/** An amount with its unit; small ones of seconds and metres in the smaller unit. */
export function amount(v: Maybe, unit = "", digits = 3): string {
  if (v === null) return "–";
  if (unit === "s" && Math.abs(v) < 1) return figure(1000 * v, digits) + unitText("ms");
  if (unit === "m" && Math.abs(v) < 1) return figure(100 * v, digits) + unitText("cm");
  return figure(v, digits) + unitText(unit);
}

/** Plot and limits in the unit in which their amounts are written. */
export function inWrittenUnit(plot: Plot, limits: Limits, unit: string): { plot: Plot; limits: Limits; unit: string } {
  const small = ({ s: [1000, "ms"], m: [100, "cm"] } as Record<string, [number, string]>)[unit];
  if (!small || [limits.lower, limits.upper, limits.bias].some((v) => v !== null && Math.abs(v) >= 1)) return { plot, limits, unit };
  const times = (v: Maybe) => (v === null ? null : v * small[0]);
  const pair = ([low, high]: [Maybe, Maybe]): [Maybe, Maybe] => [times(low), times(high)];
  return {
    unit: small[1],
    plot: { means: plot.means.map(times), differences: plot.differences.map(times) },
    limits: {
      ...limits,
      bias: times(limits.bias),
      sd: times(limits.sd),
      lower: times(limits.lower),
      upper: times(limits.upper),
      bias_interval: pair(limits.bias_interval),
      lower_interval: pair(limits.lower_interval),
      upper_interval: pair(limits.upper_interval),
    },
  };
}

/** The round values along both axes; the first and last are the ends. */
export function plotScales(plot: Plot, limits: Limits): { x: number[]; y: number[] } {
  const given = (list: readonly Maybe[]) => list.filter((v): v is number => v !== null && Number.isFinite(v));
  const scale = (values: number[], count: number) => {
    let lo = Math.min(...values);
    let hi = Math.max(...values);
    if (!(lo < hi)) {
      const pad = Math.abs(lo) * 0.05 || 1;
      [lo, hi] = [lo - pad, hi + pad];
    }
    return ticks(lo, hi, count);
  };
  return {
    x: scale(given(plot.means), 5),
    y: scale([0, ...given(plot.differences), ...given([...limits.lower_interval, ...limits.upper_interval, limits.lower, limits.upper])], 6),
  };
}

/** How many decimals tell the values of a scale apart. */
export function scaleDecimals(scale: readonly number[]): number {
  const step = scale.length > 1 ? Math.abs(scale[1]! - scale[0]!) : 1;
  return Math.min(6, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
}
