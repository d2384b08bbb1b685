import { describe, expect, it } from "vitest";
import type { Contact, Track } from "../src/api";
import type { Edits } from "../src/bench/api";
import { contactAdded, contactFrom, contactMoved, contactRemoved, edgeAt, edgeNudged, exchanged, longest, mirrored, partOf, patched, placed, placingError, shortest, unplaced } from "../src/bench/edits";
import { benchKey } from "../src/bench/keys";
import { benchDe } from "../src/text/bench.de";
import { benchEn } from "../src/text/bench.en";

const none: Edits = { version: 0, landmarks: [], swaps: [], placed: [], removed: [], undo: "", redo: "" };
const contact = (side: "left" | "right", a: number, b: number, edited = false): Contact => ({ side, initial_contact_s: a, toe_off_s: b, edited });
const clock = Array.from({ length: 200 }, (_, i) => i / 100);

describe("landmarks placed by hand", () => {
  const move = (landmark: string, frame: number, x: number) => ({ landmark, frame, x, y: 0, blend: 0 });
  it("the last place of a landmark in a frame counts", () => {
    let e = placed(none, move("left_knee", 5, 1));
    e = placed(e, move("left_knee", 6, 2));
    e = placed(e, move("right_knee", 5, 3));
    e = placed(e, move("left_knee", 5, 4));
    expect(e.landmarks.map((m) => [m.landmark, m.frame, m.x])).toEqual([
      ["left_knee", 6, 2],
      ["right_knee", 5, 3],
      ["left_knee", 5, 4],
    ]);
    expect(unplaced(e, "left_knee", 5).landmarks).toHaveLength(2);
    expect(none.landmarks).toHaveLength(0);
  });
  it("is placed the better the larger the picture is", () => {
    expect(placingError(0.5)).toBe(3);
    expect(placingError(3)).toBe(0.5);
    expect(placingError(8)).toBeCloseTo(1 / 3, 2);
  });
});

describe("exchanges", () => {
  it("rename what was placed in their frames and parts alone, and twice is as before", () => {
    const start = ["left_knee", "left_elbow", "nose"].reduce((e, landmark, i) => placed(e, { landmark, frame: 10 + i, x: 0, y: 0, blend: 0 }), none);
    const once = exchanged(start, 8, 11, ["legs"]);
    expect(once.landmarks.map((m) => m.landmark)).toEqual(["right_knee", "left_elbow", "nose"]);
    expect(once.swaps).toEqual([{ from: 8, to: 11, part: "legs" }]);
    expect(exchanged(once, 8, 11, ["legs"]).landmarks).toEqual(start.landmarks);
    expect(exchanged(start, 12, 20, ["legs", "arms"]).landmarks).toEqual(start.landmarks);
    expect(exchanged(start, 11, 20, ["legs", "arms"]).landmarks[1]!.landmark).toBe("right_elbow");
  });
  it("know the parts and the mirror of every name", () => {
    expect([partOf("left_toe"), partOf("right_wrist"), partOf("nose")]).toEqual(["legs", "arms", null]);
    expect([mirrored("left_toe"), mirrored("right_wrist"), mirrored("nose")]).toEqual(["right_toe", "left_wrist", "nose"]);
  });
});

describe("contacts", () => {
  const found = contact("left", 0.5, 0.75);
  it("a moved one that overlaps the found one needs no removal, one that does not does", () => {
    expect(contactMoved(none, found, contact("left", 0.48, 0.75)).removed).toHaveLength(0);
    expect(contactMoved(none, found, contact("left", 0.9, 1.1)).removed).toHaveLength(1);
  });
  it("a placed one that is moved again is still one", () => {
    const once = contactMoved(none, found, contact("left", 0.48, 0.75));
    const twice = contactMoved(once, once.placed[0]!, contact("left", 0.47, 0.76));
    expect(twice.placed).toHaveLength(1);
    expect(twice.placed[0]!.initial_contact_s).toBe(0.47);
  });
  it("deleting a placed one takes the found one under it as well", () => {
    const once = contactMoved(none, found, contact("left", 0.48, 0.75));
    const gone = contactRemoved(once, once.placed[0]!);
    expect(gone.placed).toHaveLength(0);
    expect(gone.removed).toHaveLength(1);
  });
  it("the other foot's placed one stays", () => {
    const e = contactAdded(none, contact("right", 0.5, 0.7));
    expect(contactRemoved(e, found).placed).toHaveLength(1);
  });
  const row = [contact("left", 0.2, 0.4), found, contact("left", 1.2, 1.45), contact("right", 0.8, 1.05)];
  it("an end stays between the neighbours and leaves a contact that can be", () => {
    expect(edgeAt(row, found, "ic", 0.3).initial_contact_s).toBeCloseTo(0.41);
    expect(edgeAt(row, found, "ic", 2).initial_contact_s).toBeCloseTo(0.75 - shortest);
    expect(edgeAt(row, found, "to", 0).toe_off_s).toBeCloseTo(0.5 + shortest);
    expect(edgeAt(row, found, "to", 5).toe_off_s).toBeCloseTo(1.19);
    expect(edgeAt([found], found, "to", 5).toe_off_s).toBeCloseTo(0.5 + longest);
  });
  it("an end moves by whole frames", () => {
    expect(edgeNudged(row, clock, found, "ic", -1).initial_contact_s).toBeCloseTo(0.49);
    expect(edgeNudged(row, clock, contact("left", 0.503, 0.75), "ic", 1).initial_contact_s).toBeCloseTo(0.52);
  });
  it("a new one is as long as the usual one, within what room there is", () => {
    expect(contactFrom(row, "left", 0.6, 2)).toBeNull();
    expect(contactFrom(row, "left", 0.8, 2)!.toe_off_s).toBeCloseTo(1.05);
    expect(contactFrom(row, "left", 1.1, 2)!.toe_off_s).toBeCloseTo(1.19);
    expect(contactFrom(row, "left", 1.18, 2)).toBeNull();
  });
});

describe("the track after a correction", () => {
  const track: Track = { space: "picture", unit: "px", time_s: [0, 1, 2], landmarks: ["a", "b"], x: [[1, 2, 3], [4, 5, 6]], y: [[1, 2, 3], [4, 5, 6]], confidence: [[1, 1, 1], [1, 1, 1]], bones: null, series: { "rise/both": { name: "rise", title: "Rise", side: "both", unit: "in", values: [1, 2, 3] } } };
  it("has the new stretch, and shares what did not change", () => {
    const inches = (unit: string) => (unit === "m" ? { unit: "in", factor: 10 } : null);
    const out = patched(track, { landmarks: [{ landmark: "b", from: 1, x: [9], y: [null], confidence: [0.5] }], series: [{ key: "rise/both", from: 2, whole: false, title: "Rise", unit: "m", values: [5] }, { key: "knee/left", from: 0, whole: true, title: "Knee", unit: "deg", values: [1, null, 3] }] }, inches);
    expect(out.x).toEqual([[1, 2, 3], [4, 9, 6]]);
    expect(out.y[1]).toEqual([4, null, 6]);
    expect(out.x[0]).toBe(track.x[0]);
    expect(out.series!["rise/both"]!.values).toEqual([1, 2, 50]);
    expect(out.series!["knee/left"]!.side).toBe("left");
    expect(track.x[1]).toEqual([4, 5, 6]);
  });
  it("is the same where nothing changed", () => expect(patched(track, { landmarks: [], series: [] }, () => null)).toBe(track));
});

describe("keys", () => {
  const press = (key: string, more: Partial<KeyboardEvent> = {}) => ({ key, shiftKey: false, altKey: false, ctrlKey: false, metaKey: false, target: null, ...more }) as KeyboardEvent;
  it("arrows step frames, and move the point in hand where there is one", () => {
    expect(benchKey(press("ArrowRight"), false, true)).toEqual({ do: "move", by: 1 });
    expect(benchKey(press("ArrowRight"), true, true)).toEqual({ do: "nudge", x: 1, y: 0 });
    expect(benchKey(press("ArrowUp", { shiftKey: true }), true, true)).toEqual({ do: "nudge", x: 0, y: -0.1 });
    expect(benchKey(press("ArrowLeft", { altKey: true }), true, true)).toEqual({ do: "nudge", x: -10, y: 0 });
    expect(benchKey(press("."), true, true)).toEqual({ do: "move", by: 1 });
  });
  it("take back and do again with and without Ctrl", () => {
    expect(benchKey(press("z"), false, true)).toEqual({ do: "undo" });
    expect(benchKey(press("z", { ctrlKey: true }), false, false)).toEqual({ do: "undo" });
    expect(benchKey(press("Z", { ctrlKey: true, shiftKey: true }), false, false)).toEqual({ do: "redo" });
    expect(benchKey(press("z"), false, false)).toBeNull();
  });
  it("belong to a field or a contact's end where that has the focus", () => {
    const within = (what: string) => ({ closest: (s: string) => (s.includes(what) ? {} : null) });
    expect(benchKey(press("ArrowLeft", { target: within("[data-own-keys]") as never }), false, true)).toBeNull();
    expect(benchKey(press("Delete", { target: within("[data-own-keys]") as never }), true, true)).toBeNull();
    expect(benchKey(press("z", { target: within("[data-own-keys]") as never }), false, true)).toEqual({ do: "undo" });
    expect(benchKey(press("x", { target: within("textarea") as never }), true, true)).toBeNull();
  });
});

describe("words", () => {
  it("name points in both languages", () => {
    expect(benchEn.pointName("left_knee")).toBe("left knee");
    expect(benchDe.pointName("left_knee")).toBe("linkes Knie");
    expect(benchDe.pointName("right_heel")).toBe("rechte Ferse");
    expect(benchDe.pointName("left_elbow")).toBe("linker Ellbogen");
    expect(benchDe.pointName("nose")).toBe("Nase");
  });
  it("say the keys in both languages, one for one", () => expect(benchDe.help.list).toHaveLength(benchEn.help.list.length));
});
