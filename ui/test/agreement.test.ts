import { describe, expect, it } from "vitest";
import type { Limits, Measure, Summary } from "../src/api";
import { amount, figure, inWrittenUnit, plotScales, readingOf, repeated, scaleDecimals } from "../src/logic/agreement";
import { rows } from "../src/logic/measures";
import { axisOf, placesOf, rangeOf } from "../src/logic/ranges";

const kept = (id: string, runner: string, created: string): Summary => ({ id, runner, created, studio: "", views: [], speed_mps: 3, step_rate: null });

describe("results that can be compared", () => {
  const list = [kept("4", "Bo", "2026-03-02"), kept("3", "Al", "2026-03-01"), kept("2", "Bo", "2026-02-02"), kept("1", " Al ", "2026-02-01"), kept("5", "Cy", "2026-01-01"), kept("6", " ", "2026-01-01")];
  it("are those of runners with two or more, oldest first", () => {
    const { runners, unnamed } = repeated(list);
    expect(runners.map((r) => [r.runner, r.results.map((s) => s.id)])).toEqual([["Al", ["1", "3"]], ["Bo", ["2", "4"]]]);
    expect(unnamed).toBe(1);
  });
  it("are readings in the order in which they were chosen", () => {
    const bo = repeated(list).runners[1]!.results;
    expect([readingOf("2", ["1", "4", "2"], bo), readingOf("4", ["1", "4", "2"], bo), readingOf("2", ["1"], bo)]).toEqual([2, 1, 0]);
  });
});

describe("figures", () => {
  it("have so many significant digits and no powers of ten", () => {
    expect([figure(108.41), figure(-2.117647), figure(0.0024496), figure(123456), figure(0), figure(-0.0), figure(9.996), figure(null)]).toEqual(["108", "−2.12", "0.00245", "123456", "0.00", "0.00", "10.0", "–"]);
    expect(figure(1e300)).toContain("e+300");
  });
  it("of seconds and metres are in the smaller unit where small", () => {
    expect([amount(0.0112, "s"), amount(1.2, "s"), amount(0.0351, "m"), amount(4.2, "deg"), amount(75.4), amount(-0.002, "s")]).toEqual(["11.2\u202fms", "1.20\u202fs", "3.51\u202fcm", "4.20°", "75.4", "−2.00\u202fms"]);
  });
});

describe("the plot", () => {
  const limits = (lower: number, upper: number): Limits => ({ first: "a", second: "b", n: 3, bias: 0, sd: 1, bias_interval: [-1, 1], lower, lower_interval: [lower - 5, lower + 5], upper, upper_interval: [upper - 5, upper + 5] });
  it("holds every point, limit and interval, and nought", () => {
    const { x, y } = plotScales({ means: [10, 40], differences: [3, 8] }, limits(1, 17));
    expect(x[0]!).toBeLessThanOrEqual(10);
    expect(x.at(-1)!).toBeGreaterThanOrEqual(40);
    expect(y[0]!).toBeLessThanOrEqual(-4);
    expect(y.at(-1)!).toBeGreaterThanOrEqual(22);
  });
  it("is in the unit of the amounts beside it", () => {
    const p = { means: [0.25, null], differences: [0.01, null] };
    const small = inWrittenUnit(p, limits(-0.02, 0.03), "s");
    expect(small.unit).toBe("ms");
    expect(small.plot).toEqual({ means: [250, null], differences: [10, null] });
    expect([small.limits.lower, small.limits.upper, small.limits.lower_interval[0]]).toEqual([-20, 30, -5020]);
    expect(inWrittenUnit(p, limits(-2, 3), "s").unit).toBe("s");
    expect(inWrittenUnit(p, limits(-0.02, 0.03), "deg").plot).toBe(p);
  });
  it("stands where all readings are the same", () => {
    const { x } = plotScales({ means: [5, 5], differences: [0, 0] }, limits(0, 0));
    expect(x[0]!).toBeLessThan(5);
    expect(x.at(-1)!).toBeGreaterThan(5);
  });
  it("tells the values of a scale apart", () => {
    expect([scaleDecimals([0, 100]), scaleDecimals([0, 0.5]), scaleDecimals([0.1, 0.12]), scaleDecimals([0, 0.001])]).toEqual([0, 1, 2, 3]);
  });
});

describe("a value beside its range", () => {
  const range = { low: 8, high: 18, verdict: "inside" as const, margin_below: 4, margin_above: 6, people: 30, sample: "", method: "", source: "", own: false };
  const measure = (side: Measure["side"], value: number, more: Partial<Measure> = {}): Measure => ({ name: "a", title: "a", side, value, unit: "deg", sd: 1, sem: 2, mdc95: 5, strides: 8, origin: "", flag: "", decimals: 1, range, ...more });
  const row = (...ms: Measure[]) => rows([{ view: "left", measures: ms } as never])[0]!;
  it("shares its axis with the other side, and both are on it whole", () => {
    const r = row(measure("left", 12), measure("right", 25));
    const axis = axisOf(r)!;
    for (const m of [r.left!, r.right!]) {
      const p = placesOf(m, axis);
      for (const v of Object.values(p)) expect(v).toBeGreaterThanOrEqual(0), expect(v).toBeLessThanOrEqual(1);
      expect(p.low).toBeLessThan(p.high);
      expect(p.least).toBeLessThan(p.value);
      expect(p.value).toBeLessThan(p.most);
      expect((p.value - p.low) / (p.high - p.low)).toBeCloseTo((m.value! - 8) / 10, 9);
    }
  });
  it("runs off the axis where the range is open", () => {
    const r = row(measure("left", 4, { range: { ...range, low: null } }));
    expect(placesOf(r.left!, axisOf(r)!).low).toBe(0);
  });
  it("is not made where there is no range", () => {
    const r = row(measure("left", 4, { range: undefined }));
    expect([axisOf(r), rangeOf(r)]).toEqual([null, undefined]);
  });
});
