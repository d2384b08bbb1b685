import { describe, expect, it } from "vitest";
import { clicked, lostWithin, middleQuality, offered, onPath, pieces, unclicked, without, type Followed, type Point, stretches, worthALook } from "../src/stickers/points";
import { stickersDe } from "../src/text/stickers.de";
import { stickersEn } from "../src/text/stickers.en";

const path = (x: (number | null)[], quality: (number | null)[], state: string[] = x.map((v) => (v === null ? "missing" : "followed"))): Followed => ({
  name: "c7",
  shape: "round",
  x,
  y: x,
  sd_px: x,
  quality,
  state,
  seen: x.filter((v) => v !== null).length,
  lost: [],
  doubtful: [],
  current: true,
});

describe("the points offered", () => {
  it("from behind are pelvis, back, heel and shank of both sides", () => {
    const rear = offered("rear");
    for (const side of ["left", "right"]) for (const n of ["psis", "heel_top", "heel_bottom", "shank_top", "shank_bottom"]) expect(rear).toContain(`${side}_${n}`);
    expect(rear).toContain("lumbosacral");
    expect(new Set(rear).size).toBe(rear.length);
  });
  it("from one side are of that side alone", () => {
    expect(offered("left").some((n) => n.startsWith("right_"))).toBe(false);
    expect(offered("right")).toContain("right_psis");
    expect(offered("right")).toContain("thoracolumbar");
  });
  it("have a word in both languages", () => {
    for (const view of ["rear", "left", "right", "front"] as const)
      for (const n of offered(view))
        for (const w of [stickersEn, stickersDe]) {
          const bare = n.replace(/^(left|right)_/, "");
          expect(w.pointName(n), n).not.toBe(n.replaceAll("_", " "));
          if (bare !== n) expect(w.pointName(n)).toMatch(/left|right|links|rechts/);
        }
    expect(stickersDe.pointName("my_spot")).toBe("my spot");
  });
});

describe("clicks", () => {
  const one: Point[] = [{ name: "a", clicks: [{ frame: 5, x: 1, y: 2 }], diameter_px: 12, shape: "round" }];
  it("stand in order, once in a frame, and keep what else is said of the point", () => {
    const two = clicked(one, "a", { frame: 2, x: 3.456, y: 4 });
    expect(two).toEqual([{ ...one[0], clicks: [{ frame: 2, x: 3.46, y: 4 }, { frame: 5, x: 1, y: 2 }] }]);
    expect(clicked(two, "a", { frame: 5, x: 9, y: 9 })[0]!.clicks.map((c) => c.x)).toEqual([3.46, 9]);
    expect(one[0]!.clicks).toHaveLength(1);
  });
  it("of a new name make a new point, the last one gone ends it", () => {
    const two = clicked(one, "b", { frame: 0, x: 1, y: 1 });
    expect(two.map((p) => p.name)).toEqual(["a", "b"]);
    expect(unclicked(two, "b", 0)).toEqual(one);
    expect(unclicked(two, "b", 1)).toEqual(two);
    expect(without(two, "a").map((p) => p.name)).toEqual(["b"]);
  });
});

describe("a path", () => {
  it("has a place where it was seen and none elsewhere", () => {
    const p = path([1, null, 3], [1, null, 1]);
    expect([onPath(p, 0), onPath(p, 1), onPath(p, 2), onPath(p, 3), onPath(p, -1), onPath(undefined, 0)]).toEqual([{ x: 1, y: 1 }, null, { x: 3, y: 3 }, null, null, null]);
  });
  it("is drawn in pieces that end where it was lost, and says where it is unsure", () => {
    const p = path([1, 2, 3, null, 5, 6, 7], [0.9, 0.9, 0.5, null, 0.9, 0.9, 0.9]);
    expect(pieces(p, 0, 99)).toEqual([
      { from: 0, to: 1, sure: true },
      { from: 1, to: 2, sure: false },
      { from: 4, to: 6, sure: true },
    ]);
    expect(pieces(p, 5, 6)).toEqual([{ from: 5, to: 6, sure: true }]);
    expect(pieces(path([1, 2], [1, 1], ["followed", "doubtful"]), -5, 5)).toEqual([{ from: 0, to: 1, sure: false }]);
    expect(pieces(path([1, 2], [0.1, 1], ["clicked", "followed"]), 0, 5)).toEqual([{ from: 0, to: 1, sure: true }]);
  });
  it("has the middle quality of the frames in which it was seen", () => {
    expect([middleQuality(path([1, 2, 3], [0.2, 1, 0.9])), middleQuality(path([1, 2, null], [0.5, 1, 0])), middleQuality(path([null], [null]))]).toEqual([0.9, 0.75, null]);
  });
});

describe("how a path stands", () => {
  const p = { ...path([1, 2, 3, null, 5, 6], [1, 0.5, 0.9, null, 0.9, 0.9], ["clicked", "followed", "doubtful", "missing", "followed", "followed"]), lost: [[3, 3]] as [number, number][], doubtful: [[2, 2]] as [number, number][] };
  it("is told in stretches", () => {
    expect(stretches(p, 0, 99).map((s) => `${s.from}-${s.to} ${s.is}`)).toEqual(["0-0 clicked", "1-1 unsure", "2-2 doubtful", "3-3 lost", "4-5 sure"]);
    expect(stretches(p, 4, 4)).toEqual([{ from: 4, to: 4, is: "sure" }]);
  });
  it("leads to what is doubtful before what is lost, the longer first", () => {
    const q = { ...p, name: "b", lost: [[0, 9]] as [number, number][], doubtful: [[3, 8]] as [number, number][] };
    expect(worthALook([p, q], 0, 99).map((r) => `${r.name} ${r.is} ${r.from}-${r.to}`)).toEqual(["b doubtful 3-8", `${p.name} doubtful 2-2`, "b lost 0-9", `${p.name} lost 3-3`]);
    expect(worthALook([q], 9, 99).map((r) => r.is)).toEqual(["lost"]);
  });
});

describe("lost ranges", () => {
  it("are cut to the part that is on show", () => {
    expect(lostWithin([[0, 3], [5, 9], [20, 30], [40, 50]], 8, 25)).toEqual([[8, 9], [20, 25]]);
    expect(lostWithin([], 0, 9)).toEqual([]);
  });
});
