import { describe, expect, it } from "vitest";
import { at, differing, merge, put, same } from "../src/logic/merge";
import { painKey } from "../src/studio/visit.svelte";

const base = { shoes: "", goals: "", training: { km: null as number | null, years: null as number | null }, signs: {} as Record<string, string>, pain: [] as { region: string; side: string; face: string; score: number }[] };
const pain = (region: string, score: number) => ({ region, side: "left", face: "front", score });

describe("merge", () => {
  it("keeps what each changed", () => {
    const { value, clashes } = merge(base, { ...base, shoes: "A", training: { km: 40, years: null }, signs: { a: "no" } }, { ...base, goals: "B", training: { km: null, years: 3 }, signs: { b: "no" } });
    expect(clashes).toEqual([]);
    expect(value).toEqual({ ...base, shoes: "A", goals: "B", training: { km: 40, years: 3 }, signs: { a: "no", b: "no" } });
  });
  it("tells where both changed the same, and keeps mine until it is settled", () => {
    const { value, clashes } = merge(base, { ...base, shoes: "A", training: { km: 40, years: null } }, { ...base, shoes: "B", training: { km: 50, years: null } });
    expect(clashes).toEqual([
      { path: "shoes", mine: "A", theirs: "B" },
      { path: "training.km", mine: 40, theirs: 50 },
    ]);
    expect(value.shoes).toBe("A");
  });
  it("is no clash where both changed to the same", () => expect(merge(base, { ...base, shoes: "A" }, { ...base, shoes: "A" }).clashes).toEqual([]));
  it("joins lists by the key of their items", () => {
    const from = { ...base, pain: [pain("shin", 3), pain("calf", 2)] };
    const mine = { ...base, pain: [pain("shin", 5), pain("calf", 2), pain("heel", 1)] };
    const theirs = { ...base, pain: [pain("shin", 3)] };
    const { value, clashes } = merge(from, mine, theirs, painKey);
    expect(clashes).toEqual([]);
    expect(value.pain).toEqual([pain("shin", 5), pain("heel", 1)]);
    const both = merge(from, mine, { ...base, pain: [pain("shin", 7), pain("calf", 2)] }, painKey);
    expect(both.clashes).toEqual([{ path: "pain.shin left front.score", mine: 5, theirs: 7 }]);
  });
  it("takes a removal", () => expect(merge({ signs: { a: "yes" } }, { signs: { a: "yes" } }, { signs: {} } as never).value).toEqual({ signs: {} }));
});

it("names the fields that differ, reads and writes them", () => {
  const a = { training: { km: 1, years: 2 }, x: null };
  const b = { training: { km: 1, years: 3 }, x: undefined };
  expect(differing(a, b)).toEqual(["training.years"]);
  expect(at(a, "training.years")).toBe(2);
  expect(at(a, "training.years.more")).toBeUndefined();
  const c = structuredClone(a);
  put(c, "training.years", 9);
  put(c, "consent.filming", "2026-03-14");
  expect(c).toEqual({ training: { km: 1, years: 9 }, x: null, consent: { filming: "2026-03-14" } });
  expect(same(null, undefined)).toBe(true);
  expect(same([1, { a: 2 }], [1, { a: 2 }])).toBe(true);
  expect(same([1], { 0: 1 })).toBe(false);
});

describe("items of lists, named by their key", () => {
  const weeks = () => ({ weeks: [{ number: 1, full: [{ exercise: "bridge", sets: 2 }, { exercise: "clam", sets: 1 }] }, { number: 2, full: [] }] });
  const key = (item: unknown) => {
    const x = item as { exercise?: string; number?: number } | null;
    return x?.exercise ?? (typeof x?.number === "number" ? `week ${x.number}` : null);
  };
  it("are read and settled where the two clash", () => {
    const mine = weeks();
    const theirs = weeks();
    mine.weeks[0]!.full[0]!.sets = 5;
    theirs.weeks[0]!.full[0]!.sets = 3;
    const { value, clashes } = merge(weeks(), mine, theirs, key);
    expect(clashes).toEqual([{ path: "weeks.week 1.full.bridge.sets", mine: 5, theirs: 3 }]);
    expect(at(value, clashes[0]!.path, key)).toBe(5);
    put(value, clashes[0]!.path, clashes[0]!.theirs, key);
    expect(value).toEqual(theirs);
  });
  it("are taken out and put in", () => {
    const w = weeks();
    put(w, "weeks.week 1.full.clam", undefined, key);
    put(w, "weeks.week 2.full.clam", { exercise: "clam", sets: 4 }, key);
    expect(w.weeks.map((x) => x.full.map((i) => i.exercise))).toEqual([["bridge"], ["clam"]]);
  });
});
