import { describe, expect, it } from "vitest";
import { labelled } from "../src/return/labels";

describe("dates below a trend", () => {
  const wide = (n: number) => Array.from({ length: n }, () => 88);

  it("stand where they have room, the first and the last before those between", () => {
    expect(labelled([], [], 12)).toEqual([]);
    expect(labelled([74], wide(1), 12)).toEqual([true]);
    expect(labelled([74, 340], wide(2), 12)).toEqual([true, true]);
    // The second would begin 14 px before the first ends.
    expect(labelled([74, 166, 600], wide(3), 12)).toEqual([true, false, true]);
    expect(labelled([74, 219, 600], wide(3), 12)).toEqual([true, true, true]);
    // On a phone the middle of three has none.
    expect(labelled([74, 207, 340], wide(3), 12)).toEqual([true, false, true]);
    expect(labelled([74, 120, 160], wide(3), 12)).toEqual([true, false, false]);
  });

  it("never come nearer to one another than the gap", () => {
    for (let width = 200; width < 1400; width += 7)
      for (let n = 2; n < 12; n++) {
        const at = Array.from({ length: n }, (_, i) => 74 + ((width - 124) * (i / (n - 1)) ** 1.7));
        const seen = labelled(at, wide(n), 12);
        const boxes = at.flatMap((x, i) => (seen[i] ? [i === 0 ? [x, x + 88] : i === n - 1 ? [x - 88, x] : [x - 44, x + 44]] : []));
        boxes.slice(1).forEach((b, i) => expect(b[0]! - boxes[i]![1]!).toBeGreaterThanOrEqual(12));
      }
  });
});
