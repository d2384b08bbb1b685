// The table of measures: one row a name, left and right next to each other.
import type { Clip, Definition, Measure, View } from "../api";
import { told } from "../text/told";

export { numberText } from "./number";

/** Headings for measures of which no explanation names one. */
export type Group = "rhythm" | "contact" | "posture" | "rear" | "load" | "other";
const groups: readonly Group[] = ["rhythm", "contact", "posture", "rear", "load", "other"];

export interface Row {
  name: string;
  title: string;
  left?: Measure;
  right?: Measure;
  both?: Measure;
  /** The view it was measured in. */
  view: View;
  /** Why nothing is given, where nothing is. */
  withheld: string | null;
}

// The first pattern that fits a measure's name decides its group.
const places: [RegExp, Group][] = [
  [/stiffness|force|impulse|loading/, "load"],
  [/pelvic|adduction|valgus|frontal|knee_distance|knee_gap|knee_window|step_width|crossover|whip|eversion|rearfoot|lateral|between_knees|knee_separation|trunk_side/, "rear"],
  [/at_contact|strike|overstride|foot_to_com|heel_to_com|shank_angle/, "contact"],
  [/rate|time|duty|flight|stride|step|asymmetry|variability|speed|stance_share|swing_share/, "rhythm"],
  [/flexion|extension|lean|oscillation|excursion|thigh|trunk|ankle|hip|knee|arm|elbow|shoulder|lumbar|com_|centre_of_mass/, "posture"],
];

export function groupOf(name: string): Group {
  return places.find(([p]) => p.test(name))?.[1] ?? "other";
}

const given = (m: Measure | undefined) => m !== undefined && (m.value !== null || !!m.text);

/**
 * The rows of all clips together. Where two clips give the same measure the
 * first that has a value counts, as the command line's table does.
 */
export function rows(clips: readonly Clip[]): Row[] {
  const out = new Map<string, Row>();
  for (const clip of clips) {
    const here = new Map<string, Row>();
    for (const m of clip.measures ?? []) {
      let row = here.get(m.name);
      if (!row) {
        row = { name: m.name, title: m.title || m.name, view: clip.view, withheld: null };
        here.set(m.name, row);
      }
      row[m.side] = m;
    }
    for (const row of here.values()) {
      const parts = [row.left, row.right, row.both];
      if (!parts.some(given)) row.withheld = parts.find((m) => m?.reason)?.reason ?? "";
      const kept = out.get(row.name);
      if (!kept || (kept.withheld !== null && row.withheld === null)) out.set(row.name, row);
    }
  }
  return [...out.values()];
}

export interface Section {
  heading: string;
  rows: Row[];
}

/**
 * The rows under their headings. Headings and order are those of the
 * explanations; a measure without one goes by its name to one of `own`. Within
 * a section what is withheld comes last.
 */
export function sections(list: readonly Row[], words: readonly Definition[], own: Record<Group, string>): Section[] {
  const order = new Map(words.map((d, i) => [d.name, i]));
  const rank = (r: Row) => order.get(r.name) ?? words.length + groups.indexOf(groupOf(r.name));
  const out = new Map<string, Row[]>();
  for (const row of [...list].sort((a, b) => rank(a) - rank(b))) {
    const heading = words[order.get(row.name) ?? -1]?.group || own[groupOf(row.name)];
    const rows = out.get(heading);
    if (rows) rows.push(row);
    else out.set(heading, [row]);
  }
  return [...out].map(([heading, rows]) => ({ heading, rows: [...rows.filter((r) => r.withheld === null), ...rows.filter((r) => r.withheld !== null)] }));
}

export interface Difference {
  /** Right minus left. */
  value: number;
  /** Whether it is beyond the two errors joined; null where one is not known. */
  beyond: boolean | null;
}

export function difference(row: Row): Difference | null {
  const l = row.left;
  const r = row.right;
  if (!l || !r || l.value === null || r.value === null || l.text || r.text) return null;
  const value = r.value - l.value;
  const beyond = l.sem === null || r.sem === null ? null : Math.abs(value) > 1.96 * Math.hypot(l.sem, r.sem);
  return { value, beyond };
}

export function unitText(unit: string): string {
  switch (unit) {
    case "deg":
      return "°";
    case "":
    case "class":
      return "";
    default:
      return "\u202f" + told(unit); // narrow no-break space
  }
}

/** A unit too long to stand behind every number; it stands under the measure's name. */
export const longUnit = (unit: string): string => (unit.length > 4 && unit !== "class" ? told(unit) : "");

/** What stands behind a number. */
export const shortUnit = (unit: string): string => (longUnit(unit) ? "" : unitText(unit));

const curveOrder = [/^knee_flexion/, /^hip_(flexion|extension)/, /^ankle/, /^trunk/, /^foot/, /^shank/, /^thigh/, /^pelvic/, /adduction/, /^knee/];

/** Where a curve stands in the row of curves to choose from. */
export function curveRank(name: string): number {
  const i = curveOrder.findIndex((p) => p.test(name));
  return i < 0 ? curveOrder.length : i;
}
