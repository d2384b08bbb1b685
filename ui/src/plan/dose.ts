// Doses and the time they take, as the program reckons it.
import type { Dose, Exercise, Item } from "../findings/api";

const setup = 20; // s to get into place

function paceS(pace: string | undefined): number {
  if (!pace) return 2;
  const total = pace.split("-").reduce((s, p) => s + Number(p), 0);
  return total > 0 ? total : 3;
}

/** Seconds that a dose takes on so many sides. */
export function timeOf(d: Dose, sides: number): number {
  const work = d.reps ? d.reps * (paceS(d.pace) + (d.hold_s ?? 0)) : (d.seconds ?? 0);
  return sides * (d.sets * work + (d.sets - 1) * d.rest_s) + setup;
}

/** Minutes that a list takes. */
export function minutesOf(items: Item[], by: Map<string, Exercise>): number {
  const s = items.reduce((sum, i) => sum + timeOf(i.dose, by.get(i.exercise)?.each && i.side === "both" ? 2 : 1), 0);
  return Math.round(s / 6) / 10;
}

/** What is wrong with a pace; empty where nothing is. */
export const paceOK = (pace: string): boolean => pace === "" || (/^\d-\d-\d$/.test(pace) && pace !== "0-0-0");
