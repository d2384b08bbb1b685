// The words of work in the background, in English.
import { leftEn } from "./left";

export const workEn = {
  title: "Under way",
  kinds: { measure: "Measuring", export: "Export", follow: "Following a sticker", draw: "Drawing an invented film", exam: "Reading a test from a film" } as Record<string, string>,
  state: { queued: "waits for its turn", running: "at work", done: "done", failed: "failed", cancelled: "cancelled" } as Record<string, string>,
  left: leftEn,
  cancel: "Cancel",
  cancelOf: (what: string) => `Cancel: ${what}`,
  label: (what: string) => `${what}: progress`,
};

export type WorkText = typeof workEn;
