import { describe, expect, it } from "vitest";
import { around, dragged, fitted, magnified, maxZoom, place, zoomed } from "../src/logic/lens";

describe("the picture in its pane", () => {
  it("is fitted whole and in the middle", () => {
    expect(place(fitted, 1280, 720, 640, 640)).toEqual({ scale: 0.5, left: 0, top: 140 });
    expect(place(fitted, 720, 1280, 640, 640)).toEqual({ scale: 0.5, left: 140, top: 0 });
  });
  it("keeps the point under the finger when enlarged", () => {
    let lens = fitted;
    const [px, py] = [400, 300];
    const before = place(lens, 1280, 720, 640, 640);
    const x = (px - before.left) / before.scale;
    const y = (py - before.top) / before.scale;
    for (const by of [1.3, 1.7, 0.9]) {
      lens = zoomed(lens, by, px, py, 1280, 720, 640, 640);
      const at = place(lens, 1280, 720, 640, 640);
      expect(at.left + x * at.scale).toBeCloseTo(px, 6);
      expect(at.top + y * at.scale).toBeCloseTo(py, 6);
    }
  });
  it("fills the pane with a part of the picture, which stays wholly in sight", () => {
    const box = { left: 200, top: 300, right: 500, bottom: 1100 };
    const at = place(around(box, 720, 1280, 700, 400), 720, 1280, 700, 400);
    expect(at.top + box.top * at.scale).toBeCloseTo(0);
    expect(at.top + box.bottom * at.scale).toBeCloseTo(400);
    expect(at.left + ((box.left + box.right) / 2) * at.scale).toBeCloseTo(350);
    expect(around({ left: -50, top: -50, right: 800, bottom: 1400 }, 720, 1280, 700, 400)).toEqual(fitted);
  });
  it("moves with the finger when dragged", () => {
    const lens = magnified(fitted, 4);
    const a = place(lens, 1280, 720, 640, 640);
    const b = place(dragged(lens, 30, -12, a.scale, 1280, 720), 1280, 720, 640, 640);
    expect(b.left - a.left).toBeCloseTo(30);
    expect(b.top - a.top).toBeCloseTo(-12);
  });
  it("keeps within its limits and comes back to the fit", () => {
    expect(magnified(fitted, 1000).zoom).toBe(maxZoom);
    expect(magnified(dragged(magnified(fitted, 3), 1e6, 1e6, 1, 1280, 720), 1e-6)).toEqual(fitted);
    const far = dragged(magnified(fitted, 3), 1e6, -1e6, 1, 1280, 720);
    expect([far.x, far.y]).toEqual([0, 1]);
  });
});
