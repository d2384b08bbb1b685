import { expect, it } from "vitest";
import { due } from "../src/exam/beat";
import type { Test, Trial } from "../src/exam/api";
import { blankTrial, keyOf, lastLever, nextPlace, readForce, readLever, readValue, sayForce, sayValue, stateOf } from "../src/exam/sheet";

const test = (name: string, more: Partial<Test> = {}) => ({ name, sided: true, trials: 3, kind: "strength", unit: "Nm/kg", ...more }) as Test;
const entry = (...trials: Partial<Trial>[]) => ({ trials: trials.map(blankTrial), felt: "", note: "" });

// 1 kgf = 9.80665 N by the 3rd CGPM 1901; 1 lbf = 4.4482216152605 N, the pound
// of 1959 on it.
it.each([
  ["220", "N", 220],
  ["220 N", "kgf", 220],
  ["22,5", "kgf", 220.649625],
  ["22.5 kg", "N", 220.649625],
  ["50 lbs", "N", 222.411080763],
  ["50", "lbf", 222.411080763],
  ["-3", "N", null],
  ["0", "N", null],
  ["12 stone", "N", null],
  ["", "N", null],
] as const)("a force of %s on a dynamometer in %s", (text, unit, want) => {
  const got = readForce(text, unit);
  if (want === null) expect(got).toBeNull();
  else expect(got).toBeCloseTo(want, 6);
});

it("reads lever arms and values in either system", () => {
  expect(readLever("38", "metric")).toBeCloseTo(0.38, 9);
  expect(readLever("0.38 m", "us")).toBeCloseTo(0.38, 9);
  expect(readLever("15", "us")).toBeCloseTo(0.381, 9);
  expect(readLever("0", "metric")).toBeNull();
  expect(readValue("2", "cm", "metric")).toBe(2); // and not two metres
  expect(readValue("4", "cm", "us")).toBeCloseTo(10.16, 9);
  expect(readValue("12.5 cm", "cm", "us")).toBeCloseTo(12.5, 9);
  expect(readValue("−8°", "deg", "metric")).toBe(-8);
  expect(readValue("34,2 s", "s", "metric")).toBe(34.2);
  expect(readValue("24 reps", "repetitions", "metric")).toBe(24);
  expect(readValue("24.5", "repetitions", "metric")).toBeNull();
  expect(readValue("many", "deg", "metric")).toBeNull();
  expect(sayForce(220.649625, "kgf")).toBe("22.5\u202fkgf");
  expect(sayValue(-8, "deg", "metric", {})).toBe("−8°");
  expect(sayValue(10.16, "cm", "us", {})).toBe("4\u202fin");
});

it("tells how far a test is", () => {
  const t = test("a");
  expect(stateOf({}, t, "left")).toBe("none");
  expect(stateOf({ "a/left": entry({ force_n: 1 }) }, t, "left")).toBe("part");
  expect(stateOf({ "a/left": entry({ force_n: 1 }) }, t, "right")).toBe("none");
  const three = [{ force_n: 1 }, { force_n: 1 }, { force_n: 1 }];
  expect(stateOf({ "a/left": entry(...three) }, t, "left")).toBe("done");
  expect(stateOf({ "a/left": entry(...three.slice(1), { force_n: 1, invalid: "slipped" }) }, t, "left")).toBe("part");
  expect(stateOf({ "a/left": entry(...three, { pain: 2 }) }, t, "left")).toBe("pain");
  expect(stateOf({ "b/left/after": entry({ value: 3 }) }, test("b", { trials: 1, stages: true }), "left")).toBe("done");
});

it("goes to the other side, then to what is suggested, and not on where it hurts", () => {
  const tests = [test("a"), test("b"), test("c", { sided: false })];
  const suggested = ["a", "c"].map((t) => ({ test: t, why: "", source: "" }));
  expect(nextPlace(tests, {}, suggested, { test: "", side: "" })).toEqual({ test: "a", side: "left" });
  const left = { "a/left": entry({ force_n: 1 }) };
  expect(nextPlace(tests, left, suggested, { test: "a", side: "left" })).toEqual({ test: "a", side: "right" });
  expect(nextPlace(tests, {}, suggested, { test: "a", side: "left" })).toEqual({ test: "c", side: "" });
  expect(nextPlace(tests, { "a/left": entry({ pain: 3 }) }, suggested, { test: "a", side: "left" })).toEqual({ test: "c", side: "" });
  expect(nextPlace(tests, { ...left, "a/right": entry({ force_n: 1 }), c: entry({ value: 1 }) }, suggested, { test: "a", side: "right" })).toBeNull();
});

it("keeps the lever arm of the side, else of the other", () => {
  const entries = { "a/left": entry({ force_n: 1, lever_m: 0.4 }, { force_n: 1, lever_m: 0.38 }) };
  expect(lastLever(entries, "a", "right")).toBe(0.38);
  expect(lastLever({ ...entries, "a/right": entry({ lever_m: 0.5 }) }, "a", "right")).toBe(0.5);
  expect(lastLever({}, "a", "left")).toBeNull();
  expect([keyOf("a", ""), keyOf("a", "left"), keyOf("a", "left", "after")]).toEqual(["a", "a/left", "a/left/after"]);
});

it("clicks evenly, each once", () => {
  const all: number[] = [];
  for (let t = 10; t < 22; t += 0.25) all.push(...due(10.15, 30, t, t + 0.25));
  expect(all.length).toBe(6);
  all.forEach((at, i) => expect(at).toBeCloseTo(10.15 + 2 * i, 9));
});
