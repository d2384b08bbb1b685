import { expect, it } from "vitest";
import type { Clip, Measure, Range } from "../src/api";
import { headlines } from "../src/logic/headline";

const m = (name: string, side: Measure["side"], value: number | null, more: Partial<Measure> = {}): Measure => ({ name, title: name, side, value, unit: "deg", sd: 1, sem: 1, mdc95: 2.8, strides: 9, origin: "", flag: "", decimals: 1, ...more });
const range = (low: number, high: number, verdict: Range["verdict"]) => ({ low, high, verdict, margin_below: 2, margin_above: 2, people: 30, sample: "", method: "", source: "", own: false }) as Range;
const clip = (measures: Measure[]) => [{ view: "left", measures } as Clip];

it("has the step rate first, then what is farthest outside of its error", () => {
  const found = headlines(
    clip([
      m("knee", "left", 24, { range: range(8, 18, "above") }),
      m("knee", "right", 17, { range: range(8, 18, "inside") }),
      m("hip", "left", 3),
      m("hip", "right", 13),
      m("trunk_lean", "both", 9, { range: range(5, 8, "at the border") }),
      m("foot", "both", 22, { range: range(5, 20, "above") }),
      m("step_rate", "both", 171, { unit: "steps/min" }),
    ]),
  );
  expect(found.map((h) => [h.row.name, h.kind, h.measure.side])).toEqual([["step_rate", "value", "both"], ["hip", "sides", "right"], ["knee", "range", "left"]]);
});

it("does not speak of a difference within error, nor of one without an error", () => {
  expect(headlines(clip([m("hip", "left", 3), m("hip", "right", 5), m("knee", "left", 3, { sem: null }), m("knee", "right", 30, { sem: null })]))).toEqual([]);
});

it("is filled up with what is asked for first", () => {
  const found = headlines(clip([m("contact_time", "left", 0.24, { sem: 0.01 }), m("contact_time", "right", 0.24, { sem: 0.01 }), m("trunk_lean", "both", 8), m("overstride", "left", null)]));
  expect(found.map((h) => [h.row.name, h.kind])).toEqual([["contact_time", "pair"], ["trunk_lean", "value"]]);
});
