// Where a box may stand on a picture without hiding what is looked at.

/** Top or bottom, left or right. */
export type Corner = "bl" | "tl" | "br" | "tr";

interface Size {
  w: number;
  h: number;
}

/** What is to be seen: a place and how far about it nothing may stand, in CSS pixels. */
interface Clear {
  x: number;
  y: number;
  of: number;
}

const edge = 12;
const buttons = 64; // the height of the row of buttons, with its distance from the edge

interface Spot {
  x: number;
  y: number;
}

/** How far circles that are to be seen reach into a box. */
function hides(clear: readonly Clear[], left: number, top: number, box: Size): number {
  let sum = 0;
  for (const c of clear) {
    const dx = Math.max(left - c.x, 0, c.x - left - box.w);
    const dy = Math.max(top - c.y, 0, c.y - top - box.h);
    sum += Math.max(0, c.of - Math.hypot(dx, dy));
  }
  return sum;
}

/** Where a box in a corner begins, at its left and top. */
function placeOf(corner: Corner, box: Size, on: Size, taken: "br" | "tr"): Spot {
  const down = corner === taken ? buttons : edge;
  return { x: corner.endsWith("l") ? edge : on.w - edge - box.w, y: corner.startsWith("t") ? down : on.h - down - box.h };
}

/**
 * The corner of a picture in which a box hides least of what is to be seen; of equal
 * ones the first of bottom left, top left, bottom right and top right. In the corner
 * taken the box stands beside a row of buttons, toward the middle.
 */
export function freeCorner(clear: readonly Clear[], box: Size, on: Size, taken: "br" | "tr"): Corner {
  let best: Corner = "bl";
  let least = Infinity;
  for (const corner of ["bl", "tl", "br", "tr"] as const) {
    const at = placeOf(corner, box, on, taken);
    const hidden = hides(clear, at.x, at.y, box);
    if (hidden < least) [best, least] = [corner, hidden];
  }
  return best;
}

/**
 * The middle of a round glass of radius r at a side of the picture, beside the box in
 * its corner, where it hides least: at the top where it can, on the side away from the
 * first of what is to be seen.
 */
export function freeGlass(clear: readonly Clear[], r: number, on: Size, box: Size, corner: Corner, taken: "br" | "tr"): Spot {
  const pad = 14;
  const away = (clear[0]?.x ?? 0) < on.w / 2 ? on.w - pad - r : pad + r;
  const top = (taken === "tr" ? buttons : pad) + r;
  const at = placeOf(corner, box, on, taken);
  const all = [...clear, { x: at.x + box.w / 2, y: at.y + box.h / 2, of: Math.hypot(box.w, box.h) / 2 }];
  let best = { x: away, y: top };
  let least = Infinity;
  for (const y of [top, Math.max(top, on.h / 2), Math.max(top, on.h - pad - r)]) {
    for (const x of [away, on.w - away]) {
      let hidden = 0;
      for (const c of all) hidden += Math.max(0, c.of + r - Math.hypot(c.x - x, c.y - y));
      if (hidden < least) [best, least] = [{ x, y }, hidden];
    }
  }
  return best;
}
