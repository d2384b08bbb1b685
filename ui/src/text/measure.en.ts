// The words of the station Measure, in English.
import { leftEn } from "./left";

export const measureEn = {
  signs: "The warning signs are not all asked yet. One yes among them means: stop and refer.",
  toSigns: "Ask them now",
  title: "Measure",
  none: "There is nothing to measure yet: no film was taken in.",
  which: "Clips to measure",
  measure: (n: number) => (n === 1 ? "Measure 1 clip" : `Measure ${n} clips`),
  again: (n: number) => (n === 1 ? "Measure 1 clip again" : `Measure ${n} clips again`),
  measuring: "Measuring…",
  waiting: "Measuring waits for other work.",
  drawing: "Another invented film is still being drawn.",
  drawingWait: "Being drawn…",
  chooseOne: "Choose a clip.",
  model: "How thorough",
  models: { usual: ["As usual", ""], lite: ["Fast", "less exact"], heavy: ["Thorough", "slower"] } as Record<string, [string, string]>,
  anew: "Measure again",
  options: "Choose clips, and how thorough",

  left: leftEn,

  result: "What was found",
  of: (date: string) => `Measured ${date}`,
  older: "Earlier measurements",
  newest: "newest",
  stale: "A clip, what is said of it, its stickers or the runner’s body was changed since this was measured. Measure again; this result stays.",
  show: "Show",
  shown: "shown",
  report: "Report (PDF)",
  frames: "Look at the frames",
  framesOf: (view: string) => `Frames: ${view}`,
  offerFrames: "Look at the frames worth checking.",
  offerMeasure: (n: number) => (n === 1 ? "One clip is ready." : `${n} clips are ready.`),
  offerStale: "Something was changed since: measure again.",
  notes: "Please note",
  withheld: (n: number) => (n === 1 ? "One measure is not given; the table says why." : `${n} measures are not given; the table says why.`),
  nothing: "No measure lies outside of its range beyond its error.",

  headline: {
    usual: (span: string) => `typical ${span}`,
    beyond: "Left and right differ by more than the error.",
    sides: (l: string, r: string) => `left ${l}, right ${r}`,
    no: "These are measurements, not findings.",
  },
};

export type MeasureText = typeof measureEn;
