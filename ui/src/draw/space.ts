// A marker file has no picture: the figure is drawn where the picture would be,
// from the side and, where all three axes are known, from behind.
import type { Maybe, Track } from "../api";
import { range } from "../logic/clock";
import type { Project } from "./figure";

export interface Space {
  /** Metres shown across and up; the floor is at `low`. */
  width: number;
  low: number;
  high: number;
  /** Where the runner is at each frame, forward; the figure is kept in the middle. */
  middle: (frame: number) => number;
  /** The same sideways, for the drawing from behind. */
  across: (frame: number) => number;
  rear: boolean;
}

/** Farther than this along the ground the runner is followed, metres. */
const onTheSpot = 1.7;

export function spaceOf(track: Track): Space {
  const y = range(track.y) ?? [0, 2];
  const x = range(track.x) ?? [-1, 1];
  const hips = ["left_hip", "right_hip", "sacrum"].map((n) => track.landmarks.indexOf(n)).filter((i) => i >= 0);
  const still = (x[0] + x[1]) / 2;
  const hipsOf = (paths: Maybe[][], otherwise: number) => (frame: number) => {
    const at = hips.map((i) => paths[i]?.[frame]).filter((v) => v != null);
    return at.length ? at.reduce((a, b) => a + b, 0) / at.length : otherwise;
  };
  const z = range(track.z ?? []) ?? [0, 0];
  const moves = x[1] - x[0] > onTheSpot;
  return {
    low: Math.min(0, y[0]),
    high: y[1] + 0.08,
    width: moves ? onTheSpot : x[1] - x[0] + 0.2,
    middle: moves ? hipsOf(track.x, still) : () => still,
    across: z[1] - z[0] > onTheSpot / 2 ? hipsOf(track.z!, 0) : () => (z[0] + z[1]) / 2,
    rear: !!track.z,
  };
}

export interface Panel {
  project: Project;
  left: number;
  right: number;
  floor: number;
  scale: number;
  kind: "side" | "rear";
}

/** Lays the one or two drawings out in a pane of w × h pixels. */
export function panels(space: Space, frame: number, w: number, h: number): Panel[] {
  const share = space.rear ? 0.64 : 1;
  const pad = h * 0.08;
  const scale = Math.min((h - 2 * pad) / (space.high - space.low), (w * share * 0.94) / space.width);
  const floor = h - pad;
  const side: Panel = {
    project: (x, y) => [(w * share) / 2 + (x - space.middle(frame)) * scale, floor - (y - space.low) * scale],
    left: 0,
    right: w * share,
    floor,
    scale,
    kind: "side",
  };
  if (!space.rear) return [side];
  const rear: Panel = {
    project: (_x, y, z) => [w * share + (w * (1 - share)) / 2 + (z - space.across(frame)) * scale, floor - (y - space.low) * scale],
    left: w * share,
    right: w,
    floor,
    scale,
    kind: "rear",
  };
  return [side, rear];
}

export function drawGround(g: CanvasRenderingContext2D, p: Panel, unit: number): void {
  g.save();
  g.strokeStyle = "rgba(255, 255, 255, 0.35)";
  g.lineWidth = unit * 2;
  g.beginPath();
  g.moveTo(p.left + 12 * unit, p.floor);
  g.lineTo(p.right - 12 * unit, p.floor);
  g.stroke();
  g.strokeStyle = "rgba(255, 255, 255, 0.10)";
  g.lineWidth = unit;
  for (let m = 0.5; m < 3; m += 0.5) {
    const y = p.floor - m * p.scale;
    if (y < 0) break;
    g.beginPath();
    g.moveTo(p.left + 12 * unit, y);
    g.lineTo(p.right - 12 * unit, y);
    g.stroke();
  }
  g.restore();
}
