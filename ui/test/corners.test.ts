import { describe, expect, it } from "vitest";
import { freeCorner, freeGlass } from "../src/logic/corners";

const on = { w: 700, h: 500 };
const box = { w: 300, h: 90 };

describe("the corner for what is written on a picture", () => {
  it.each([
    ["bottom left where nothing is there", [{ x: 350, y: 60, of: 40 }], "bl"],
    ["top left for a foot at the bottom left", [{ x: 150, y: 460, of: 56 }], "tl"],
    ["bottom right for a foot there and a face at the top left", [{ x: 150, y: 460, of: 56 }, { x: 200, y: 60, of: 34 }], "br"],
    ["top right where all else is to be seen", [{ x: 150, y: 460, of: 56 }, { x: 200, y: 60, of: 34 }, { x: 550, y: 400, of: 56 }], "tr"],
  ])("%s", (_, clear, want) => expect(freeCorner(clear, box, on, "br")).toBe(want));

  it("hides the least where something has to be hidden", () => {
    const clear = [{ x: 60, y: 60, of: 34 }, { x: 60, y: 460, of: 34 }, { x: 650, y: 400, of: 34 }, { x: 650, y: 40, of: 20 }];
    expect(freeCorner(clear, box, on, "br")).toBe("tr");
  });
});

describe("the enlarging glass", () => {
  const r = 84;
  const glass = (clear: Parameters<typeof freeGlass>[0], corner: "bl" | "tl" = "bl") => freeGlass(clear, r, on, box, corner, "br");

  it("is at the top on the side away from the point", () => {
    expect(glass([{ x: 150, y: 460, of: 56 }], "tl")).toEqual({ x: 602, y: 98 });
    expect(glass([{ x: 600, y: 400, of: 56 }])).toEqual({ x: 98, y: 98 });
  });

  it("leaves the face free", () => {
    const at = glass([{ x: 600, y: 400, of: 56 }, { x: 150, y: 80, of: 34 }]);
    expect(Math.hypot(at.x - 150, at.y - 80)).toBeGreaterThanOrEqual(r + 34);
    expect(Math.hypot(at.x - 600, at.y - 400)).toBeGreaterThanOrEqual(r + 56);
  });
});
