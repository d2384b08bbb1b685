// What is clicked and what was followed, without the page: which names a view
// offers, how clicks change, and where a path was lost.
import type { Maybe, View } from "../api";

/** A place shown by a person: a frame of the file, and pixels of the film. */
export interface Click {
  frame: number;
  x: number;
  y: number;
}

export interface Point {
  name: string;
  clicks: Click[];
  diameter_px?: number;
  shape?: string;
}

/** A path as it was followed: one value for each frame of the file. */
export interface Followed {
  name: string;
  shape: string;
  x: Maybe[];
  y: Maybe[];
  sd_px: Maybe[];
  quality: Maybe[];
  state: string[];
  seen: number;
  lost: [number, number][];
  /** Ranges in which another place is as likely: nothing is measured from them. */
  doubtful: [number, number][];
  current: boolean;
}

export interface Stickers {
  version: number;
  points: Point[];
  followed: Followed[];
  fresh: boolean;
  followed_at: string;
  /** What a glance at the first click of a point told, by its name; nothing where it is good. */
  doubts?: Record<string, Doubt>;
}

/** There is nothing to follow, or what there is would be lost at once. */
export type Doubt = "nothing" | "fleeting";

/** The longest name that the server keeps whole. */
export const longestName = 60;

/** The points offered in a view, in order down the body. */
export function offered(view: View): string[] {
  const both = (...names: string[]) => names.flatMap((n) => [`left_${n}`, `right_${n}`]);
  switch (view) {
    case "rear":
      return ["c7", "thoracolumbar", "lumbosacral", ...both("psis", "shank_top", "shank_bottom", "heel_top", "heel_bottom")];
    case "left":
    case "right":
      return ["c7", "thoracolumbar", "lumbosacral", `${view}_psis`, `${view}_asis`, `${view}_mt5`];
    case "front":
      return both("asis", "mt1", "mt5");
    default:
      return [];
  }
}

const tenths = (v: number) => Math.round(v * 100) / 100;

/** The points with a click on one of them; a second click in the same frame replaces the first. */
export function clicked(points: readonly Point[], name: string, click: Click): Point[] {
  const c = { frame: click.frame, x: tenths(click.x), y: tenths(click.y) };
  const old = points.find((p) => p.name === name);
  if (!old) return [...points, { name, clicks: [c] }];
  const clicks = [...old.clicks.filter((k) => k.frame !== c.frame), c].sort((a, b) => a.frame - b.frame);
  return points.map((p) => (p === old ? { ...old, clicks } : p));
}

/** The points without one click; a point that has no click left goes. */
export function unclicked(points: readonly Point[], name: string, frame: number): Point[] {
  return points.map((p) => (p.name === name ? { ...p, clicks: p.clicks.filter((c) => c.frame !== frame) } : p)).filter((p) => p.clicks.length > 0);
}

export const without = (points: readonly Point[], name: string): Point[] => points.filter((p) => p.name !== name);

/** Where a point was followed to in a frame of the file; null where it was not seen. */
export function onPath(path: Followed | undefined, frame: number): { x: number; y: number } | null {
  const x = path?.x[frame];
  const y = path?.y[frame];
  return x == null || y == null ? null : { x, y };
}

/** The lost ranges within frames from first to last, cut to them. */
export function lostWithin(lost: readonly [number, number][], first: number, last: number): [number, number][] {
  return lost.filter(([a, b]) => b >= first && a <= last).map(([a, b]) => [Math.max(a, first), Math.min(b, last)]);
}

/** The middle quality of the frames in which a point was seen; null where it never was. */
export function middleQuality(path: Followed): number | null {
  const all = path.quality.filter((q, i): q is number => q !== null && path.x[i] != null).sort((a, b) => a - b);
  if (!all.length) return null;
  const h = all.length >> 1;
  return all.length % 2 ? all[h]! : (all[h - 1]! + all[h]!) / 2;
}

/** How a piece of a path is drawn: whole where the fit was sure of both its ends, broken where not, and no line where the point was lost. */
export interface Piece {
  from: number;
  to: number;
  sure: boolean;
}

export const sureQuality = 0.8;

const sureAt = (p: Followed, i: number) => p.state[i] !== "doubtful" && (p.state[i] === "clicked" || (p.quality[i] ?? 0) >= sureQuality);

/** How a path stands in a frame: shown by a person, sure, unsure, doubtful, or lost. */
export type Standing = "clicked" | "sure" | "unsure" | "doubtful" | "lost";

export function standing(p: Followed, i: number): Standing {
  if (!onPath(p, i)) return "lost";
  if (p.state[i] === "doubtful") return "doubtful";
  if (p.state[i] === "clicked") return "clicked";
  return (p.quality[i] ?? 0) >= sureQuality ? "sure" : "unsure";
}

export interface Stretch {
  from: number;
  /** The last frame, included. */
  to: number;
  is: Standing;
}

/** The stretches of a path of one standing, between two frames of the file, both included. */
export function stretches(p: Followed, from: number, to: number): Stretch[] {
  const out: Stretch[] = [];
  for (let i = from; i <= Math.min(to, p.x.length - 1); i++) {
    const is = standing(p, i);
    const last = out.at(-1);
    if (last && last.is === is) last.to = i;
    else out.push({ from: i, to: i, is });
  }
  return out;
}

/** The next place worth a look after a frame: a range that is doubtful or lost, the doubtful ones before the lost ones and the longer before the shorter. */
export function worthALook(paths: readonly Followed[], first: number, last: number): { name: string; from: number; to: number; is: "doubtful" | "lost" }[] {
  const of = (p: Followed, is: "doubtful" | "lost") => lostWithin(p[is], first, last).map(([from, to]) => ({ name: p.name, from, to, is }));
  const long = (a: { from: number; to: number }, b: { from: number; to: number }) => b.to - b.from - (a.to - a.from);
  return [...paths.flatMap((p) => of(p, "doubtful")).sort(long), ...paths.flatMap((p) => of(p, "lost")).sort(long)];
}

/** The pieces of a path between two frames of the file, both included. */
export function pieces(path: Followed, from: number, to: number): Piece[] {
  const out: Piece[] = [];
  for (let i = Math.max(from, 0); i < Math.min(to, path.x.length - 1); i++) {
    if (!onPath(path, i) || !onPath(path, i + 1)) continue;
    const sure = sureAt(path, i) && sureAt(path, i + 1);
    const last = out.at(-1);
    if (last && last.to === i && last.sure === sure) last.to = i + 1;
    else out.push({ from: i, to: i + 1, sure });
  }
  return out;
}
