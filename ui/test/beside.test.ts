import { describe, expect, it } from "vitest";
import type { Part, Point } from "../src/beside/api";
import { angleAt, matched, measure, nearestPoint, round, tilt, upon, within } from "../src/beside/geometry";
import { besideKey } from "../src/beside/keys";
import { besidePath, pageOf } from "../src/router.svelte";

const at = (r: number, deg: number): Point => [500 + r * Math.cos((deg * Math.PI) / 180), 400 + r * Math.sin((deg * Math.PI) / 180)];

describe("what is drawn measures", () => {
  it("the angle of the arms, however they are turned and whichever is first", () => {
    for (const want of [0, 12.5, 90, 137, 180])
      for (const turn of [0, 33, 178, 301]) {
        const [a, b] = [at(100, turn), at(240, turn + want)];
        expect(angleAt(a, [500, 400], b)).toBeCloseTo(want, 4);
        expect(angleAt(b, [500, 400], a)).toBeCloseTo(want, 4);
      }
  });
  it("a line's angle to the horizontal and its length, in metres with a scale alone", () => {
    expect(tilt([0, 0], [10, 0])).toBe(0);
    expect(tilt([10, 40], [10, 0])).toBe(90);
    expect(tilt([0, 0], [-10, 10])).toBeCloseTo(45);
    // Seen by a camera rolled so that the picture has to be turned clockwise by 10°.
    for (const world of [-80, -10, 0, 35, 90]) expect(tilt([500, 400], at(100, world - 10), 10)).toBeCloseTo(Math.abs(world), 4);
    expect(measure("line", [[500, 400], at(100, -10)], null, 10)!.deg).toBeCloseTo(0, 4);
    expect(measure("line", [[0, 0], [300, 400]], 250)).toMatchObject({ px: 500, m: 2 });
    expect(measure("line", [[0, 0], [300, 400]], null)).toMatchObject({ px: 500, m: null });
    expect(measure("angle", [[0, 0], [300, 400]], 250)).toBeNull();
    expect(measure("angle", [[10, 0], [0, 0], [0, 10]], 250)).toEqual({ deg: 90, px: null, m: null });
  });
  it("points stay in the picture, and the nearest in reach is found", () => {
    expect(within([-3, 5.006], 100, 50)).toEqual([0, 5.01]);
    expect(within([300, 90], 100, 50)).toEqual([100, 50]);
    const marks = [{ points: [[0, 0], [50, 0]] as Point[] }, { points: [[52, 0], [90, 0], [90, 40]] as Point[] }];
    expect(nearestPoint(marks, [51.4, 0], 10)).toEqual({ mark: 1, point: 0 });
    expect(nearestPoint(marks, [70, 20], 10)).toBeNull();
  });
});

describe("two films over each other", () => {
  const part = (leg: number | null, x: number, y: number): Part => ({ strides: [], stride: 0, leg_px: leg, hip_x_px: x, hip_y_px: y });
  it("have legs of one length and the hips in one place", () => {
    const first = { scale: 0.5, left: -30, top: 12 };
    const b = matched(first, part(400, 700, 500), part(250, 300, 410))!;
    expect(250 * b.scale).toBeCloseTo(400 * first.scale);
    expect(b.left + 300 * b.scale).toBeCloseTo(first.left + 700 * first.scale);
    expect(b.top + 410 * b.scale).toBeCloseTo(first.top + 500 * first.scale);
    expect(matched(first, part(400, 1, 1), part(null, 1, 1))).toBeNull();
  });
  it("are of one height where the legs are not matched", () => {
    expect(upon({ scale: 0.5, left: 3, top: 4 }, 1080, 540)).toEqual({ scale: 1, left: 3, top: 4 });
  });
  it("steps are counted round", () => {
    expect([round(-1, 40), round(40, 40), round(83, 40), round(5, 0)]).toEqual([39, 0, 3, 0]);
  });
});

describe("keys", () => {
  const press = (key: string, more: object = {}) => ({ key, shiftKey: false, altKey: false, ctrlKey: false, metaKey: false, target: { closest: () => null }, ...more });
  it("arrows step, and move the cross or the point in hand while there is one", () => {
    expect(besideKey(press("ArrowRight"), false, false, true)).toEqual({ do: "move", by: 1 });
    expect(besideKey(press("ArrowRight"), true, false, true)).toEqual({ do: "nudge", x: 1, y: 0 });
    expect(besideKey(press("ArrowUp", { shiftKey: true }), false, true, true)).toEqual({ do: "nudge", x: 0, y: -0.1 });
    expect(besideKey(press("ArrowDown", { altKey: true }), true, false, true)).toEqual({ do: "nudge", x: 0, y: 10 });
  });
  it("Enter places a point, but presses a button that has the focus", () => {
    expect(besideKey(press("Enter"), true, false, true)).toEqual({ do: "place" });
    expect(besideKey(press("Enter"), false, false, true)).toBeNull();
    expect(besideKey(press("Enter", { target: { closest: (s: string) => s.includes("button") } }), true, false, true)).toBeNull();
  });
  it("nothing is taken from a field, and single keys can be switched off", () => {
    const field = { target: { closest: (s: string) => s.startsWith("input") } };
    for (const key of ["l", "Delete", "ArrowLeft", "z"]) expect(besideKey(press(key, field), true, true, true)).toBeNull();
    expect(besideKey(press("l"), false, false, false)).toBeNull();
    expect(besideKey(press("z", { ctrlKey: true }), false, false, false)).toEqual({ do: "undo" });
    expect(besideKey(press("v"), false, false, true)).toBeNull();
  });
});

it("the page has an address with a visit and without", () => {
  expect(pageOf("/visits/V/beside")).toEqual({ page: "beside", visit: "V", result: "" });
  expect(pageOf("/results/R/beside")).toEqual({ page: "beside", visit: "", result: "R" });
  expect(besidePath("V", "R", 1, 20)).toBe("/visits/V/beside#a=R/1/0&frame=20");
  expect(besidePath("", "R")).toBe("/results/R/beside");
});
