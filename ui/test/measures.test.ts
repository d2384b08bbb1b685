import { describe, expect, it } from "vitest";
import type { Clip, Definition, Measure, Side } from "../src/api";
import { difference, groupOf, numberText, rows, sections } from "../src/logic/measures";
import { en } from "../src/text/en";

const measure = (name: string, side: Side, value: number | null, more: Partial<Measure> = {}): Measure => ({
  name, title: name, side, value, unit: "deg", sd: 1, sem: 1, mdc95: 2.77, strides: 8, origin: "pose model", flag: "", decimals: 1, ...more,
});
const clip = (view: Clip["view"], measures: Measure[]): Clip => ({ view, measures }) as Clip;

describe("rows", () => {
  it("puts left and right next to each other", () => {
    const [row] = rows([clip("left", [measure("knee_flexion_at_contact", "left", 17), measure("knee_flexion_at_contact", "right", 20)])]);
    expect(row!.left!.value).toBe(17);
    expect(row!.right!.value).toBe(20);
    expect(row!.withheld).toBeNull();
  });
  it("prefers a clip that gives the measure to one that withholds it", () => {
    const why = measure("step_width", "both", null, { reason: "not seen from the side" });
    const list = rows([clip("left", [why]), clip("rear", [measure("step_width", "both", 0.03)])]);
    expect(list).toHaveLength(1);
    expect(list[0]).toMatchObject({ view: "rear", withheld: null });
    expect(rows([clip("left", [why])])[0]!.withheld).toBe("not seen from the side");
  });
  it("counts a class in words as given", () => {
    expect(rows([clip("left", [measure("strike_class", "left", null, { text: "rearfoot" })])])[0]!.withheld).toBeNull();
  });
});

describe("difference", () => {
  const row = (l: Partial<Measure>, r: Partial<Measure>) => rows([clip("left", [measure("a", "left", 10, l), measure("a", "right", 13, r)])])[0]!;
  it("is right minus left and beyond error only past 1.96 times both errors joined", () => {
    // 1.96 · √(1² + 1²) = 2.772; 1.96 · √(1.1² + 1.1²) = 3.049
    expect(difference(row({}, {}))).toEqual({ value: 3, beyond: true });
    expect(difference(row({ sem: 1.1 }, { sem: 1.1 }))!.beyond).toBe(false);
    expect(difference(row({ sem: null }, {}))!.beyond).toBeNull();
  });
  it("is not made of what is missing or in words", () => {
    expect(difference(row({ value: null }, {}))).toBeNull();
    expect(difference(row({ text: "rearfoot" }, {}))).toBeNull();
  });
});

describe("sections", () => {
  const words = [{ name: "b", group: "First" }, { name: "a", group: "Second" }] as Definition[];
  it("follow the explanations, then the names; what is withheld comes last", () => {
    const list = rows([clip("left", [measure("a", "both", 1), measure("b", "both", null, { reason: "x" }), measure("step_rate", "both", 170)])]);
    expect(sections(list, words, en.table.groups).map((s) => [s.heading, s.rows.map((r) => r.name)])).toEqual([
      ["First", ["b"]], ["Second", ["a"]], ["Rhythm", ["step_rate"]],
    ]);
    const two = rows([clip("left", [measure("step_time", "both", null, { reason: "x" }), measure("step_rate", "both", 170)])]);
    expect(sections(two, [], en.table.groups)[0]!.rows.map((r) => r.name)).toEqual(["step_rate", "step_time"]);
  });
  it("know where a name belongs", () => {
    expect(["step_rate", "contact_time", "knee_flexion_at_contact", "knee_flexion_peak_stance", "pelvic_drop", "leg_stiffness", "zzz"].map(groupOf)).toEqual([
      "rhythm", "rhythm", "contact", "posture", "rear", "load", "other",
    ]);
  });
});

it("writes numbers with a true minus and never minus nought", () => {
  expect(numberText(-3.14159, 1)).toBe("−3.1");
  expect(numberText(-0.04, 1)).toBe("0.0");
  expect(numberText(171.36, 0)).toBe("171");
});
