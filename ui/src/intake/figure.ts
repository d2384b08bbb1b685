// The figure of the body map, our own drawing: half a body from the middle line
// outwards, mirrored for the other side. Knees, ankles and feet are drawn larger
// than they are, since that is where runners hurt. Units are arbitrary.
import type { Face, PainSide, Region } from "../studio/api";

type Point = readonly [number, number];
type Outline = readonly Point[];

export const width = 228;
export const height = 648;

const head: Outline = [[0, 4], [13, 6], [23, 16], [26, 31], [22, 47], [12, 59], [0, 63]];
const neck: Outline = [[0, 63], [12, 59], [13, 70], [21, 77], [0, 81]];
const torso: Outline = [[0, 81], [21, 77], [26, 91], [43, 99], [50, 117], [47, 141], [0, 147]];
const shoulder: Outline = [[21, 77], [45, 82], [61, 93], [67, 113], [50, 117], [43, 99], [26, 91]];
const arm: Outline = [[67, 113], [50, 117], [56, 152], [66, 192], [78, 230], [80, 252], [86, 266], [98, 262], [100, 246], [96, 228], [86, 186], [76, 150]];

const front: Record<string, Outline> = {
  head,
  neck,
  shoulder,
  arm,
  chest: torso,
  belly: [[0, 147], [47, 141], [44, 166], [46, 188], [0, 195]],
  pelvis_front: [[0, 195], [46, 188], [54, 206], [30, 228], [10, 243], [0, 245]],
  groin: [[54, 206], [58, 224], [38, 246], [22, 262], [4, 258], [0, 245], [10, 243], [30, 228]],
  hip_outer: [[46, 188], [60, 200], [70, 224], [74, 252], [58, 252], [58, 224], [54, 206]],
  thigh_inner: [[4, 258], [22, 262], [26, 300], [27, 346], [9, 348], [7, 310]],
  thigh_front: [[22, 262], [38, 246], [58, 224], [58, 252], [57, 300], [54, 346], [27, 346], [26, 300]],
  thigh_outer: [[58, 252], [74, 252], [76, 296], [71, 348], [54, 346], [57, 300]],
  knee_inner: [[9, 348], [27, 346], [27, 408], [13, 404], [5, 376]],
  knee_front: [[27, 346], [54, 346], [54, 408], [27, 408]],
  knee_outer: [[54, 346], [71, 348], [77, 376], [69, 404], [54, 408]],
  shin: [[13, 404], [27, 408], [54, 408], [69, 404], [72, 440], [65, 486], [60, 526], [40, 529], [20, 526], [15, 486], [10, 440]],
  ankle_inner: [[20, 526], [40, 529], [40, 568], [15, 566], [11, 546]],
  ankle_outer: [[40, 529], [60, 526], [69, 546], [65, 566], [40, 568]],
  forefoot: [[15, 566], [40, 568], [65, 566], [82, 596], [85, 612], [12, 612], [11, 590]],
  toes: [[12, 612], [85, 612], [85, 628], [74, 640], [26, 642], [12, 634]],
};

const back: Record<string, Outline> = {
  head,
  neck,
  shoulder,
  arm,
  upper_back: torso,
  low_back: [[0, 147], [47, 141], [44, 166], [46, 186], [17, 198], [0, 198]],
  sacrum: [[0, 198], [17, 198], [14, 222], [0, 238]],
  buttock: [[17, 198], [46, 186], [60, 200], [70, 224], [73, 254], [44, 268], [7, 268], [0, 256], [0, 238], [14, 222]],
  thigh_back: [[7, 268], [44, 268], [73, 254], [76, 296], [71, 348], [9, 348], [8, 310]],
  knee_back: [[9, 348], [71, 348], [77, 376], [69, 404], [13, 404], [5, 376]],
  calf: [[13, 404], [69, 404], [72, 440], [65, 482], [56, 500], [25, 500], [15, 482], [10, 440]],
  achilles: [[25, 500], [56, 500], [52, 556], [29, 556]],
  heel: [[29, 556], [52, 556], [61, 574], [60, 590], [22, 590], [20, 574]],
  arch: [[22, 594], [60, 594], [64, 616], [57, 640], [26, 640], [18, 616]],
};

const drawn: Record<Face, Record<string, Outline>> = { front, back };

export interface Spot {
  region: string;
  side: PainSide;
  /** The face it belongs to in the records. */
  face: Face;
  path: string;
  /** Where its number stands. */
  x: number;
  y: number;
  /** Whether it can be chosen here; else it only completes the figure. */
  live: boolean;
}

const middle = width / 2;

/** On the front the runner's right is on the left of the picture; on the back it is the other way round. */
const sign = (face: Face, side: PainSide): number => ((side === "left") === (face === "front") ? 1 : -1);

function path(points: readonly Point[]): string {
  return "M" + points.map(([x, y]) => `${round(x)} ${round(y)}`).join("L") + "Z";
}

const round = (v: number) => Math.round(v * 10) / 10;

/** The middle of an outline's area. */
function centre(points: readonly Point[]): Point {
  let [area, x, y] = [0, 0, 0];
  points.forEach(([x1, y1], i) => {
    const [x2, y2] = points[(i + 1) % points.length]!;
    const cross = x1 * y2 - x2 * y1;
    area += cross;
    x += (x1 + x2) * cross;
    y += (y1 + y2) * cross;
  });
  return area === 0 ? points[0]! : [x / (3 * area), y / (3 * area)];
}

/** The places of one face, as the form of the intake divides them. */
export function spots(face: Face, regions: readonly Region[]): Spot[] {
  const out: Spot[] = [];
  for (const [id, outline] of Object.entries(drawn[face])) {
    const region = regions.find((r) => r.id === id);
    const other = face === "front" ? "back" : "front";
    // Where the records know a place on the other face only, it is chosen there
    // if it is drawn there at all.
    const live = !!region && (!region.face || region.face === face || !(id in drawn[other]));
    const belongs = region?.face || face;
    const put = (side: PainSide, points: readonly Point[]) => {
      const [x, y] = centre(points);
      out.push({ region: id, side, face: belongs, path: path(points), x, y, live });
    };
    const half = (side: PainSide) => outline.map(([x, y]) => [middle + sign(face, side) * x, y] as const);
    if (region?.sided ?? ["shoulder", "arm"].includes(id)) {
      put("left", half("left"));
      put("right", half("right"));
    } else {
      const [a, b] = [half("left"), half("right")];
      put("middle", [...a, ...b.reverse()]);
    }
  }
  return out;
}

/** The nearest place in a direction, to be gone to with an arrow key. */
export function toward(from: Spot, list: readonly Spot[], dx: number, dy: number): Spot | null {
  let best: Spot | null = null;
  let least = Infinity;
  for (const spot of list) {
    if (spot === from || !spot.live) continue;
    const [x, y] = [spot.x - from.x, spot.y - from.y];
    const along = x * dx + y * dy;
    const across = Math.abs(x * dy - y * dx);
    if (along < 3 || across > along * 2.4) continue;
    const cost = along + 2 * across;
    if (cost < least) [least, best] = [cost, spot];
  }
  return best;
}
