import { describe, expect, it } from "vitest";
import { apart, fit, frameAt, nextPass, within } from "../src/film/geometry";
import { part, pauseAfter, sizeText } from "../src/film/parts";
import { filmName, format, verdictOf } from "../src/film/rate";
import { legLength } from "../src/intake/estimate";
import { spots, toward } from "../src/intake/figure";
import { numberText } from "../src/logic/number";
import { prefsFrom } from "../src/prefs.svelte";
import { benchPath, pageOf } from "../src/router.svelte";
import type { Region } from "../src/studio/api";

describe("the body map", () => {
  const regions: Region[] = [
    { id: "knee_front", title: "Knee, front", face: "front", sided: true },
    { id: "shin", title: "Shin", face: "front", sided: true },
    { id: "belly", title: "Belly", face: "front", sided: false },
    { id: "calf", title: "Calf", face: "back", sided: true },
    { id: "arch", title: "Arch", face: "front", sided: true },
    { id: "neck", title: "Neck", face: "back", sided: false },
  ];
  const front = spots("front", regions);
  const back = spots("back", regions);
  const find = (list: typeof front, region: string, side: string) => list.find((s) => s.region === region && s.side === side)!;
  it("has the runner's right on the left of the front, on the right of the back", () => {
    expect(find(front, "shin", "right").x).toBeLessThan(find(front, "shin", "left").x);
    expect(find(back, "calf", "right").x).toBeGreaterThan(find(back, "calf", "left").x);
    expect(find(front, "belly", "middle").x).toBeCloseTo(114, 6);
  });
  it("lets each place be chosen once, on its own face", () => {
    const live = [...front, ...back].filter((s) => s.live).map((s) => `${s.region} ${s.side} ${s.face}`);
    expect(new Set(live).size).toBe(live.length);
    expect(live).toContain("neck middle back");
    expect(live).toContain("arch left front"); // drawn behind, kept as the records have it
    expect(live).toHaveLength(10);
  });
  it("is gone through with arrows", () => {
    expect(toward(find(front, "knee_front", "right"), front, 0, 1)).toMatchObject({ region: "shin", side: "right" });
    expect(toward(find(front, "shin", "right"), front, 1, 0)).toMatchObject({ region: "shin", side: "left" });
    expect(toward(find(front, "shin", "left"), front, 1, 0)).toBeNull();
  });
});

it("estimates the leg length by 0.530 of the height (Drillis & Contini 1966, table of 1.60 to 1.90 m)", () => {
  for (const [h, leg] of [[1.6, 0.848], [1.7, 0.901], [1.8, 0.954], [1.9, 1.007]] as const) expect(legLength(h)).toBeCloseTo(leg, 9);
});

describe("marks on the picture", () => {
  it("fit it whole and stay within it", () => {
    expect(fit(1080, 1920, 1000, 480)).toEqual({ scale: 0.25, left: 365, top: 0 });
    expect(within({ x: -3, y: 2000.123 }, 1080, 1920)).toEqual({ x: 0, y: 1920 });
    expect(apart({ x: 0, y: 0 }, { x: 3, y: 4 })).toBe(5);
  });
  it("find the frame of a moment, and the next pass of the seam", () => {
    expect(frameAt([0, 0.1, 0.2], 0.16)).toBe(2);
    expect(nextPass([], 3.2, 3.2)).toBeNull();
    expect(nextPass([1], 3.2, 3.2)).toBeCloseTo(2, 9);
    expect(nextPass([1], null, 3.2)).toBeNull();
    expect(nextPass([1, 2.1, 3.2], null, null)).toBeCloseTo(4.3, 9);
  });
});

describe("sending", () => {
  it("cuts a file into parts that leave nothing out", () => {
    const size = 9_500_001;
    let sent = 0;
    const parts: number[] = [];
    while (sent < size) {
      const [from, to] = part(sent, size);
      expect(from).toBe(sent);
      expect(to - from).toBeLessThanOrEqual(8 << 20);
      parts.push(to - from);
      sent = to;
    }
    expect(parts.reduce((a, b) => a + b)).toBe(size);
  });
  it("waits longer from failure to failure, but not for ever", () => expect([0, 1, 2, 9].map(pauseAfter)).toEqual([1000, 2000, 4000, 15000]));
  it("says sizes", () => expect([0, 12, 4200, 5_340_000, 52_000_000, 2_100_000_000].map((b) => sizeText(b, numberText))).toEqual(["0\u202fkB", "1\u202fkB", "4\u202fkB", "5.3\u202fMB", "52\u202fMB", "2.1\u202fGB"]));
});

it("names what a camera's rate is worth, and a recording", () => {
  expect([30, 50, 60, 120].map(verdictOf)).toEqual(["slow", "fair", "fair", "good"]);
  expect(format((t) => t === "video/webm;codecs=vp8")).toEqual({ type: "video/webm;codecs=vp8", ending: "webm" });
  expect(filmName(new Date(2026, 2, 4, 9, 5, 7), "webm")).toBe("camera-20260304-090507.webm");
});

describe("addresses", () => {
  it.each([
    ["/", { page: "home" }],
    ["/visits/A1", { page: "visit", id: "A1", station: "" }],
    ["/visits/A1/film", { page: "visit", id: "A1", station: "film" }],
    ["/visits/A1/beside", { page: "beside", visit: "A1", result: "" }],
    ["/visits/A1/elsewhere", { page: "unknown" }],
    ["/visits/A1/bench/r%20x/2", { page: "bench", visit: "A1", result: "r x", clip: 2 }],
    ["/results/r/bench/0", { page: "bench", visit: "", result: "r", clip: 0 }],
    ["/visits/A1/bench/r/x", { page: "unknown" }],
    ["/results", { page: "results" }],
    ["/results/2026-ada/", { page: "result", id: "2026-ada" }],
    ["/results/%E0%A4%A", { page: "result", id: "%E0%A4%A" }],
    ["/settings", { page: "settings" }],
    ["/nowhere", { page: "unknown" }],
  ])("%s", (path, page) => expect(pageOf(path)).toEqual(page));
  it("lead where they say", () => expect(pageOf(benchPath("A 1", "r/x", 3))).toEqual({ page: "bench", visit: "A 1", result: "r/x", clip: 3 }));
});

it("keeps of the device's choices only what it knows", () => {
  expect(prefsFrom('{"units":"us","language":"de","appearance":"dark","who":"Kim"}')).toEqual({ units: "us", language: "de", appearance: "dark", who: "Kim" });
  for (const text of [null, "", "null", "[1", '{"units":"imperial","language":5,"who":"' + "x".repeat(200) + '"}']) expect(prefsFrom(text)).toMatchObject({ units: "metric", language: "en", appearance: "auto", who: "" });
});
