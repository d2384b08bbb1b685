import { describe, expect, it } from "vitest";
import type { Measure, Side } from "../src/api";
import { common, remarksOf } from "../src/logic/remarks";

const measure = (side: Side, flag: string): Measure => ({ name: "step_rate", title: "", side, value: 1, unit: "", sd: 1, sem: 1, mdc95: 1, strides: 6, origin: "", flag, decimals: 0 });

describe("remarks on measures", () => {
  it("keeps beside a measure only what is its own", () => {
    const r = remarksOf(measure("right", "relative to the trunk; far leg, less sure; only 7 strides, about 83 needed to know the mean within ±1.0 deg; 1 wild value left out"));
    expect(r).toEqual({ need: 83, far: true, own: ["relative to the trunk"] });
    expect(remarksOf(measure("both", "only 6 strides, 7 or more advised")).need).toBe(7);
    expect(remarksOf(measure("both", ""))).toEqual({ need: 0, far: false, own: [] });
    expect(remarksOf(undefined).own).toEqual([]);
  });
  it("says once what holds for many", () => {
    expect(common([measure("left", "reads about 6.0 deg low"), measure("right", "far leg, less sure"), measure("both", "only 6 strides, 7 or more advised")])).toEqual({ few: true, far: ["right"] });
    expect(common([measure("left", "relative to the trunk")])).toEqual({ few: false, far: [] });
  });
});
