// Angles written on the picture, at the joint, with the number that the curves
// and the table have: they are not measured again from the drawing.
import type { Series, Track } from "../api";
import { numberText, unitText } from "../logic/measures";
import { stageInk, type Spots } from "./figure";

type Vec = { x: number; y: number };

interface Arms {
  at: Vec;
  /** Directions in pane pixels between which the angle lies. */
  from: Vec;
  to: Vec;
}

const minus = (a: Vec, b: Vec): Vec => ({ x: a.x - b.x, y: a.y - b.y });
const middle = (a: Vec | undefined, b: Vec | undefined): Vec | undefined => (a && b ? { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 } : (a ?? b));
const up: Vec = { x: 0, y: -1 };
const down: Vec = { x: 0, y: 1 };

/** Where on the body the angle of a series lies, or null where it has no place. */
export function armsOf(series: Pick<Series, "name" | "side">, spots: Spots): Arms | null {
  const of = (part: string) => spots.get(`${series.side}_${part}`);
  const hips = middle(spots.get("left_hip"), spots.get("right_hip"));
  const shoulders = middle(spots.get("left_shoulder"), spots.get("right_shoulder"));
  const make = (at: Vec | undefined, from: Vec | undefined, to: Vec | undefined): Arms | null => (at && from && to ? { at, from, to } : null);
  const hip = of("hip");
  const knee = of("knee");
  const ankle = of("ankle");
  const name = series.name;
  if (/trunk|lean/.test(name)) return make(hips, up, hips && shoulders && minus(shoulders, hips));
  if (/pelvi/.test(name)) {
    const other = spots.get(series.side === "left" ? "right_hip" : "left_hip");
    if (!hip || !other || series.side === "both") return null;
    return { at: hip, from: { x: Math.sign(other.x - hip.x) || 1, y: 0 }, to: minus(other, hip) };
  }
  if (/shank/.test(name)) return make(ankle, up, ankle && knee && minus(knee, ankle));
  if (/foot/.test(name)) {
    const heel = of("heel");
    const toe = of("toe");
    if (!heel || !toe) return null;
    return { at: heel, from: { x: Math.sign(toe.x - heel.x) || 1, y: 0 }, to: minus(toe, heel) };
  }
  if (/ankle|dorsi/.test(name)) {
    const toe = of("toe");
    return make(ankle, ankle && knee && minus(knee, ankle), ankle && toe && minus(toe, ankle));
  }
  if (/knee/.test(name)) return make(knee, hip && knee && minus(knee, hip), knee && ankle && minus(ankle, knee));
  if (/adduction|thigh/.test(name)) return make(hip, down, hip && knee && minus(knee, hip));
  if (/hip/.test(name)) return make(hip, hips && shoulders && minus(hips, shoulders), hip && knee && minus(knee, hip));
  return null;
}

/** Names of angles that are seen from behind or in front. */
const frontal = /pelvi|adduction|valgus|frontal|lateral|eversion|whip/;

/** Draws the angles of the chosen sides at one frame; where the pane holds two drawings, those of one kind. */
export function drawAngles(g: CanvasRenderingContext2D, track: Track, frame: number, spots: Spots, sides: readonly string[], unit: number, kind?: "side" | "rear"): void {
  g.save();
  g.font = `600 ${Math.round(unit * 13)}px system-ui, sans-serif`;
  g.textBaseline = "middle";
  const hips = middle(spots.get("left_hip"), spots.get("right_hip"));
  const taken: { x: number; y: number; w: number; h: number }[] = [];
  for (const series of Object.values(track.series ?? {})) {
    if (!sides.includes(series.side) || series.unit !== "deg") continue;
    if (kind && kind !== (frontal.test(series.name) ? "rear" : "side")) continue;
    const v = series.values[frame];
    const arms = v == null ? null : armsOf(series, spots);
    if (v == null || !arms) continue;
    const colour = series.side === "both" ? stageInk.middle : stageInk[series.side];
    const a = Math.atan2(arms.from.y, arms.from.x);
    const b = Math.atan2(arms.to.y, arms.to.x);
    let turn = b - a;
    while (turn > Math.PI) turn -= 2 * Math.PI;
    while (turn < -Math.PI) turn += 2 * Math.PI;
    const r = unit * 26;
    const { x, y } = arms.at;
    for (const [w, ink] of [
      [4, stageInk.edge],
      [1.6, colour],
    ] as const) {
      g.lineWidth = unit * w;
      g.strokeStyle = ink;
      g.setLineDash(w < 2 ? [unit * 2, unit * 3] : []);
      g.beginPath();
      g.moveTo(x, y);
      g.lineTo(x + Math.cos(a) * r * 1.35, y + Math.sin(a) * r * 1.35);
      g.stroke();
      g.setLineDash([]);
      g.beginPath();
      g.arc(x, y, r, a, b, turn < 0);
      g.stroke();
    }
    const text = (series.side === "both" ? "" : series.side === "left" ? "L " : "R ") + numberText(v, 0) + unitText(series.unit);
    const wide = g.measureText(text).width + unit * 10;
    const high = unit * 20;
    // Between the arms; where both sides are written, on the outside of each.
    const outward = hips && sides.length > 2 && series.side !== "both" && frontal.test(series.name) ? Math.sign(x - hips.x) : 0;
    const out = outward ? (outward < 0 ? Math.PI : 0) : a + turn / 2;
    let lx = x + Math.cos(out) * (r + unit * 10) - (Math.cos(out) < 0 ? wide : 0);
    let ly = y + Math.sin(out) * (r + unit * 10) - high / 2;
    for (const t of taken) if (lx < t.x + t.w && t.x < lx + wide && ly < t.y + t.h && t.y < ly + high) ly = t.y + t.h + unit * 2;
    lx = Math.min(Math.max(lx, 2), g.canvas.width - wide - 2);
    ly = Math.min(Math.max(ly, 2), g.canvas.height - high - 2);
    taken.push({ x: lx, y: ly, w: wide, h: high });
    g.fillStyle = "rgba(6, 10, 9, 0.82)";
    g.beginPath();
    g.roundRect(lx, ly, wide, high, unit * 4);
    g.fill();
    g.fillStyle = colour;
    g.fillText(text, lx + unit * 5, ly + high / 2 + unit * 0.5);
  }
  g.restore();
}
