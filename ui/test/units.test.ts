import { describe, expect, it } from "vitest";
import { sessionIn } from "../src/logic/convert";
import { manner, numberText, readNumber, shortNumber } from "../src/logic/number";
import { read, say, turned } from "../src/logic/units";
import type { Session } from "../src/api";

describe("read", () => {
  it.each([
    ["178", "metric", 1.78],
    ["178 cm", "us", 1.78],
    ["1,78", "metric", 1.78],
    ["1.78m", "us", 1.78],
    ["5 ft 10", "metric", 1.778],
    ["5'10\"", "us", 1.778],
    ["5′10½", "us", null],
    ["5.5", "us", 1.6764],
    ["70", "us", 1.778],
    ["1,80", "us", 1.8],
    ["180", "us", 1.8],
    ["70 in", "metric", 1.778],
  ] as const)("height %s in %s", (text, units, m) => {
    const v = read(text, "height", units);
    if (m === null) expect(v).toBeNull();
    else expect(v).toBeCloseTo(m, 9);
  });
  it.each([
    ["12", "metric", 12 / 3.6],
    ["12,6 km/h", "us", 3.5],
    ["3.5 m/s", "metric", 3.5],
    ["7.5", "us", 3.3528],
    ["7.5 mph", "metric", 3.3528],
    ["4:46/km", "us", 1000 / 286],
    ["8:00/mi", "metric", 1609.344 / 480],
  ] as const)("speed %s in %s", (text, units, mps) => expect(read(text, "speed", units)).toBeCloseTo(mps, 9));
  // A belt is 1.5 to 8 m long, a camera stands 1 to 12 m away, a leg is 0.6 to 1.2 m.
  it.each([
    ["3", "metric", [1.5, 8], 3],
    ["3.2", "metric", [1.5, 8], 3.2],
    ["320", "metric", [1.5, 8], 3.2],
    ["4", "metric", [1, 12], 4],
    ["350", "metric", [1, 12], 3.5],
    ["92", "metric", [0.6, 1.2], 0.92],
    ["50", "metric", [0.2, 3], 0.5],
    ["126", "us", [1.5, 8], 3.2004],
    ["10", "us", [1, 12], 3.048],
    ["36", "us", [0.6, 1.2], 0.9144],
    ["30", "metric", [1.5, 8], 0.3],
    ["3", "metric", undefined, 0.03],
  ] as const)("length %s in %s, usual %s", (text, units, usual, m) => expect(read(text, "length", units, usual)).toBeCloseTo(m, 9));
  it("pace and distance in the chosen unit", () => {
    expect(read("5:45", "pace", "metric")).toBeCloseTo(0.345, 9);
    expect(read("8:00", "pace", "us")).toBeCloseTo(480 / 1609.344, 9);
    expect(read("28", "distance", "us")).toBeCloseTo(28 * 1609.344, 6);
    expect(read("45 km", "distance", "us")).toBeCloseTo(45000, 6);
  });
  it("mass", () => {
    expect(read("154", "mass", "us")).toBeCloseTo(69.8532, 4);
    expect(read("11 st 4", "mass", "metric")).toBeCloseTo(158 * 0.45359237, 9);
    expect(read("68.5", "mass", "metric")).toBe(68.5);
  });
  it("leaves alone what is none", () => {
    for (const what of ["height", "length", "mass", "speed", "pace", "distance", "plain"] as const) for (const text of ["", "x", "12 x", "--3", "1.2.3", "4:7"]) expect(read(text, what, "metric"), `${what} ${text}`).toBeNull();
  });
});

describe("say", () => {
  it("gives back what was read", () => {
    for (const units of ["metric", "us"] as const)
      for (const [what, v, near] of [["height", 1.778, 0.005], ["length", 0.9, 0.002], ["length", 3.2, 0.002], ["mass", 70.2, 0.3], ["speed", 3.4, 0.03], ["pace", 0.345, 0.001], ["distance", 45000, 90]] as const)
        expect(Math.abs(read(say(v, what, units), what, units)! - v), `${say(v, what, units)}`).toBeLessThan(near);
  });
  it("does not round up to twelve inches", () => expect(say(1.8285, "height", "us")).toBe("6\u202fft 0\u202fin"));
});

describe("numbers", () => {
  it("have the mark of the language", () => {
    manner.mark = ",";
    expect(numberText(-3.25, 2)).toBe("−3,25");
    expect(shortNumber(3.5, 3)).toBe("3,5");
    expect(shortNumber(120, 0)).toBe("120");
    manner.mark = ".";
    expect(readNumber("3,25")).toBe(3.25);
    expect(readNumber("−2")).toBe(-2);
    expect(readNumber("2e5")).toBeNull();
  });
});

it("turns a result's measures, ranges and errors together", () => {
  const m = { name: "step_length", unit: "m", value: 1.27, sd: 0.0254, sem: 0.0254, mdc95: null, decimals: 2, flag: "reads about 0.010 m low; relative to the trunk", range: { low: 1, high: null, margin_below: 0.0508, margin_above: 0, speed: "3.3-3.7" } };
  const s = { clips: [{ measures: [m, { ...m, unit: "deg", range: { ...m.range, speed: "up to 3.7" } }], curves: [] }] } as unknown as Session;
  const [length, angle] = sessionIn("us", s).clips![0]!.measures!;
  expect(length).toMatchObject({ unit: "in", decimals: 1, flag: "reads about 0.4 in low; relative to the trunk" });
  expect(length!.value).toBeCloseTo(50, 9);
  expect(length!.sem).toBeCloseTo(1, 9);
  expect(length!.mdc95).toBeNull();
  expect(length!.range!.margin_below).toBeCloseTo(2, 9);
  expect(length!.range!.high).toBeNull();
  expect(angle).toMatchObject({ unit: "deg", value: 1.27 });
  expect(length!.range!.speed).toBe("7.4–8.3");
  expect(angle!.range!.speed).toBe("up to 8.3");
  expect(sessionIn("metric", s)).toBe(s);
  expect(turned("steps/min", "us")).toBeNull();
});
