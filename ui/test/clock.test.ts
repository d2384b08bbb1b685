import { describe, expect, it } from "vitest";
import { firstAtOrAfter, follow, frameOnShow, minutesAndSeconds, nearestFrame, range, ticks } from "../src/logic/clock";

// A variable-rate clip: gaps of 10, 30, 20 and 40 ms.
const clock = [0, 0.01, 0.04, 0.06, 0.1];

describe("frames and times", () => {
  it("finds the nearest frame on an uneven clock", () => {
    expect([-1, 0, 0.004, 0.006, 0.024, 0.026, 0.081, 9].map((t) => nearestFrame(clock, t))).toEqual([0, 0, 0, 1, 1, 2, 4, 4]);
    expect(nearestFrame([], 1)).toBe(-1);
  });
  it("keeps a frame on show until the next begins", () => {
    expect([-1, 0, 0.0099, 0.01, 0.039, 0.04, 9].map((t) => frameOnShow(clock, t))).toEqual([0, 0, 0, 1, 1, 2, 4]);
  });
  it("every frame's own time leads back to it", () => {
    clock.forEach((t, k) => {
      expect(nearestFrame(clock, t)).toBe(k);
      expect(frameOnShow(clock, t)).toBe(k);
      expect(firstAtOrAfter(clock, t)).toBe(k);
    });
  });
});

describe("the stretch a curve shows", () => {
  it("stays while the cursor is well inside, follows at the edges, keeps inside the clip", () => {
    expect(follow(2, 2, 3, 0, 10)).toBe(2);
    expect(follow(2, 2, 3.9, 0, 10)).toBeCloseTo(2.2);
    expect(follow(2, 2, 2.1, 0, 10)).toBeCloseTo(1.8);
    expect(follow(2, 2, 9.99, 0, 10)).toBe(8);
    expect(follow(2, 2, 0, 0, 10)).toBe(0);
    expect(follow(5, 20, 3, 0, 10)).toBe(0);
  });
  it("always holds the cursor", () => {
    let from = 0;
    for (let i = 0; i < 1000; i++) {
      const cursor = (i * 7.31) % 10;
      from = follow(from, 2, cursor, 0, 10);
      expect(cursor).toBeGreaterThanOrEqual(from);
      expect(cursor).toBeLessThanOrEqual(from + 2);
    }
  });
});

describe("ticks", () => {
  it("are round and take the range in", () => {
    expect(ticks(3, 118, 4)).toEqual([0, 50, 100, 150]);
    expect(ticks(-10.2, 9.7, 4)).toEqual([-15, -10, -5, 0, 5, 10]);
    for (const [lo, hi] of [
      [0.001, 0.0093],
      [-180, 180],
      [5, 5],
      [-0.3, 7777],
    ] as const) {
      const got = ticks(lo, hi, 4);
      expect(got[0]!).toBeLessThanOrEqual(lo);
      expect(got.at(-1)!).toBeGreaterThanOrEqual(hi);
      expect(got.length).toBeLessThan(9);
    }
  });
});

it("a range passes over gaps", () => {
  expect(range([[null, 3], [-1, null]])).toEqual([-1, 3]);
  expect(range([[null]])).toBeNull();
});

it("a time left has no sixtieth second", () => {
  expect([0, 59.4, 59.6, 60, 119.7, 150.2].map(minutesAndSeconds)).toEqual([[0, 0], [0, 59], [1, 0], [1, 0], [2, 0], [2, 30]]);
});
