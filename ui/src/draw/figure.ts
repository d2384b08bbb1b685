// The skeleton: left solid, right dashed, midline thin; faint where the
// landmark is unsure. It lies on a dark edge so that it shows on any picture.
import type { Maybe, Track } from "../api";
import type { Box } from "../logic/lens";

export type Spot = { x: number; y: number; conf: number };
export type Spots = Map<string, Spot>;
/** Takes a landmark's coordinates to the pane's pixels. */
export type Project = (x: number, y: number, z: number) => [number, number];

/** Colours on the stage, which is dark in both themes. */
export const stageInk = { left: "#82b5ff", right: "#ffb35e", middle: "#f2f5f4", edge: "rgba(6, 10, 9, 0.72)", now: "#ffffff" } as const;

/** Below this confidence a landmark is drawn faint. */
export const unsure = 0.5;
const faint = 0.3;

export function spotsAt(track: Track, frame: number, project: Project): Spots {
  const out: Spots = new Map();
  track.landmarks.forEach((name, i) => {
    const x = track.x[i]?.[frame];
    const y = track.y[i]?.[frame];
    if (x == null || y == null) return;
    const [px, py] = project(x, y, track.z?.[i]?.[frame] ?? 0);
    out.set(name, { x: px, y: py, conf: track.confidence?.[i]?.[frame] ?? 1 });
  });
  return out;
}

export function rawSpotsAt(track: Track, frame: number, project: Project): Spots {
  const out: Spots = new Map();
  track.landmarks.forEach((name, i) => {
    const x: Maybe | undefined = track.raw_x?.[i]?.[frame];
    const y: Maybe | undefined = track.raw_y?.[i]?.[frame];
    if (x == null || y == null) return;
    const [px, py] = project(x, y, 0);
    out.set(name, { x: px, y: py, conf: track.confidence?.[i]?.[frame] ?? 1 });
  });
  return out;
}

export function sideOf(name: string): "left" | "right" | "middle" {
  return name.startsWith("left_") ? "left" : name.startsWith("right_") ? "right" : "middle";
}

export function drawSkeleton(g: CanvasRenderingContext2D, bones: readonly [string, string][], spots: Spots, unit: number): void {
  g.save();
  g.lineCap = "round";
  g.lineJoin = "round";
  const drawn = new Set<string>();
  // The far side, right for a camera on the left, is not known here: midline
  // first, then right, then left, the same in every view.
  for (const side of ["middle", "right", "left"] as const) {
    for (const [a, b] of bones) {
      const sa = sideOf(a);
      const sb = sideOf(b);
      if ((sa === sb ? sa : "middle") !== side) continue;
      const from = spots.get(a);
      const to = spots.get(b);
      if (!from || !to) continue;
      g.globalAlpha = Math.min(from.conf, to.conf) < unsure ? faint : 1;
      const path = new Path2D();
      path.moveTo(from.x, from.y);
      path.lineTo(to.x, to.y);
      g.setLineDash([]);
      g.lineWidth = unit * (side === "middle" ? 3.4 : 5.4);
      g.strokeStyle = stageInk.edge;
      g.stroke(path);
      g.setLineDash(side === "right" ? [unit * 6, unit * 6] : []);
      g.lineWidth = unit * (side === "middle" ? 1.6 : 3);
      g.strokeStyle = stageInk[side];
      g.stroke(path);
      drawn.add(a).add(b);
    }
  }
  g.setLineDash([]);
  for (const [name, s] of spots) {
    if (!drawn.has(name)) continue;
    const side = sideOf(name);
    g.globalAlpha = s.conf < unsure ? faint : 1;
    g.beginPath();
    g.arc(s.x, s.y, unit * 3.6, 0, 2 * Math.PI);
    g.fillStyle = stageInk[side];
    g.fill();
    g.lineWidth = unit * 1.4;
    g.strokeStyle = "rgba(6, 10, 9, 0.9)";
    g.stroke();
  }
  g.restore();
}

/** Landmarks as they were first seen, before mending: small crosses. */
export function drawRaw(g: CanvasRenderingContext2D, spots: Spots, unit: number): void {
  g.save();
  const r = unit * 4;
  for (const s of spots.values()) {
    g.globalAlpha = s.conf < unsure ? 0.5 : 1;
    for (const [w, colour] of [
      [3.2, stageInk.edge],
      [1.3, stageInk.now],
    ] as const) {
      g.lineWidth = unit * w;
      g.strokeStyle = colour;
      g.beginPath();
      g.moveTo(s.x - r, s.y - r);
      g.lineTo(s.x + r, s.y + r);
      g.moveTo(s.x + r, s.y - r);
      g.lineTo(s.x - r, s.y + r);
      g.stroke();
    }
  }
  g.restore();
}

/** The part of the picture in which the runner stays throughout, with some air and room for the head. */
export function runnerBox(track: Track, w: number, h: number): Box | null {
  const x = middleRange(track.x);
  const y = middleRange(track.y);
  if (!x || !y) return null;
  const high = y[1] - y[0];
  return {
    left: Math.max(0, x[0] - 0.1 * high),
    right: Math.min(w, x[1] + 0.1 * high),
    top: Math.max(0, y[0] - 0.14 * high),
    bottom: Math.min(h, y[1] + 0.08 * high),
  };
}

/** From the first to the ninety-ninth hundredth of all values, or of some ten thousand spread evenly over them: a stray landmark does not count. */
function middleRange(paths: readonly (readonly Maybe[])[]): [number, number] | null {
  const step = Math.max(1, Math.floor(paths.reduce((n, p) => n + p.length, 0) / 10_000));
  const some: number[] = [];
  for (const p of paths)
    for (let i = 0; i < p.length; i += step) {
      const v = p[i];
      if (v != null) some.push(v);
    }
  if (some.length < 2) return null;
  const all = Float64Array.from(some).sort();
  const at = (part: number) => all[Math.round(part * (all.length - 1))]!;
  return at(0.01) < at(0.99) ? [at(0.01), at(0.99)] : null;
}
