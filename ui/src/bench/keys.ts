// What each key does at the bench.
import { shortcut, type Command } from "../player/keys";

export type BenchCommand =
  | Command
  | { do: "nudge"; x: number; y: number }
  | { do: "point"; by: 1 | -1 }
  | { do: "blend"; by: 1 | -1 }
  | { do: "place"; by: 1 | -1 }
  | { do: "right" | "letgo" | "original" | "exchange" | "undo" | "redo" | "runner" };

const single: Record<string, BenchCommand> = {
  ",": { do: "move", by: -1 },
  ".": { do: "move", by: 1 },
  n: { do: "place", by: 1 },
  N: { do: "place", by: -1 },
  y: { do: "right" },
  p: { do: "point", by: 1 },
  P: { do: "point", by: -1 },
  b: { do: "blend", by: 1 },
  B: { do: "blend", by: -1 },
  x: { do: "exchange" },
  z: { do: "undo" },
  Z: { do: "redo" },
  f: { do: "runner" },
};

type Pressed = Parameters<typeof shortcut>[0] & { repeat?: boolean };

const arrows: Record<string, [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** The command of a key press; `held` says that a landmark is in hand. */
export function benchKey(event: Pressed, held: boolean, singleKeys: boolean): BenchCommand | null {
  const focus = event.target as { closest?: (selector: string) => unknown } | null;
  if (focus?.closest?.("input:not([type=checkbox]), textarea, select, dialog, [contenteditable]")) return null;
  // A contact's end has the arrows and Delete for itself; the letters stay the bench's.
  if (event.key.length > 1 && focus?.closest?.("[data-own-keys]")) return null;
  const command = event.ctrlKey || event.metaKey;
  if (command && !event.altKey && event.key.toLowerCase() === "z") return { do: event.shiftKey ? "redo" : "undo" };
  if (command && !event.altKey && event.key.toLowerCase() === "y") return { do: "redo" };
  const arrow = arrows[event.key];
  if (held && arrow) {
    const step = event.shiftKey ? 0.1 : command || event.altKey ? 10 : 1;
    return { do: "nudge", x: arrow[0] * step, y: arrow[1] * step };
  }
  if (held && event.key === "Escape") return { do: "letgo" };
  // A key held down puts back nothing: it may have been pressed to delete a contact.
  if (held && !event.repeat && !command && !event.altKey && (event.key === "Backspace" || event.key === "Delete")) return { do: "original" };
  if (singleKeys && !command && !event.altKey) {
    const own = single[event.key];
    if (own) return own;
  }
  return shortcut(event, singleKeys);
}
