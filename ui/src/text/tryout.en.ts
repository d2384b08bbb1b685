// The words of trying the program on an invented runner, in English.
import { leftEn } from "./left";

export const tryoutEn = {
  title: "No film at hand?",
  lead: "Try it on an invented runner: the program draws her from the side and from behind, with faults you can find. You measure her like anybody else, and erase her when you are done.",
  begin: "Draw two invented films",
  beginning: "Being made ready …",

  drawing: "The invented films",
  films: { left: "From the left side", rear: "From behind" } as Record<string, string>,
  film: "Film",
  state: { queued: "waits for its turn", running: "being drawn", failed: "could not be drawn" } as Record<string, string>,
  left: leftEn,
  label: (what: string) => `${what}: how far the drawing is`,
  cancel: "Cancel",
  cancelOf: (what: string) => `Cancel: ${what}`,
  offer: "The invented film is being drawn.",
  wait: "Look at the intake",
};

export type TryoutText = typeof tryoutEn;
