// Lines and angles drawn by hand, and how two films lie over each other.
import type { Placed } from "../logic/lens";
import type { Mark, Part, Point } from "./api";

/** How many points a mark has. */
export const pointsOf = (kind: Mark["kind"]): number => (kind === "angle" ? 3 : 2);

export const between = (a: Point, b: Point): number => Math.hypot(b[0] - a[0], b[1] - a[1]);

/** The angle at the middle point, 0 to 180 degrees. */
export function angleAt(a: Point, vertex: Point, b: Point): number {
  const [ax, ay] = [a[0] - vertex[0], a[1] - vertex[1]];
  const [bx, by] = [b[0] - vertex[0], b[1] - vertex[1]];
  return (Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by)) * 180) / Math.PI;
}

/** The angle of a line to the horizontal, 0 to 90 degrees, in a picture that has to be turned clockwise by `roll` degrees to be level. */
export function tilt(a: Point, b: Point, roll = 0): number {
  const turn = ((Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI + roll + 540) % 180;
  return Math.min(turn, 180 - turn);
}

/** What a mark measures; metres where the scale is known. */
export function measure(kind: Mark["kind"], points: readonly Point[], pixelsPerM: number | null, roll = 0): { deg: number; px: number | null; m: number | null } | null {
  if (points.length !== pointsOf(kind)) return null;
  if (kind === "angle") return { deg: angleAt(points[0]!, points[1]!, points[2]!), px: null, m: null };
  const px = between(points[0]!, points[1]!);
  return { deg: tilt(points[0]!, points[1]!, roll), px, m: pixelsPerM ? px / pixelsPerM : null };
}

/** A place within the picture, to a hundredth of a pixel. */
export const within = (p: Point, w: number, h: number): Point => {
  const keep = (v: number, most: number) => Math.round(Math.min(most, Math.max(0, v)) * 100) / 100;
  return [keep(p[0], w), keep(p[1], h)];
};

/** The point of the marks nearest to a place, within reach; all in the film's pixels. */
export function nearestPoint(marks: readonly Pick<Mark, "points">[], at: Point, reach: number): { mark: number; point: number } | null {
  let best: { mark: number; point: number } | null = null;
  let least = reach;
  marks.forEach((m, mark) =>
    m.points.forEach((p, point) => {
      const d = between(p, at);
      if (d <= least) [least, best] = [d, { mark, point }];
    }),
  );
  return best;
}

/**
 * Where the second film lies so that the legs of both are of one length and their
 * hips in one place; null where either leg was not seen.
 */
export function matched(first: Placed, a: Part, b: Part): Placed | null {
  if (!a.leg_px || !b.leg_px || a.hip_x_px === null || a.hip_y_px === null || b.hip_x_px === null || b.hip_y_px === null) return null;
  const scale = (first.scale * a.leg_px) / b.leg_px;
  return { scale, left: first.left + a.hip_x_px * first.scale - b.hip_x_px * scale, top: first.top + a.hip_y_px * first.scale - b.hip_y_px * scale };
}

/** Where the second film lies picture upon picture, whatever their sizes. */
export const upon = (first: Placed, heightA: number, heightB: number): Placed => ({ ...first, scale: (first.scale * heightA) / heightB });

/** A step counted round. */
export const round = (step: number, steps: number): number => (steps > 0 ? ((step % steps) + steps) % steps : 0);
