// What each key does where two strides are looked at.
import { shortcut, type Command } from "../player/keys";

export type Key =
  | Command
  | { do: "nudge"; x: number; y: number }
  | { do: "tool"; kind: "line" | "angle" }
  | { do: "place" | "cancel" | "delete" | "undo" | "redo" | "foot" | "layout" | "other" | "point" | "runner" };

type Pressed = Parameters<typeof shortcut>[0];

const arrows: Record<string, [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const single: Record<string, Key> = {
  l: { do: "tool", kind: "line" },
  g: { do: "tool", kind: "angle" },
  f: { do: "foot" },
  o: { do: "layout" },
  t: { do: "other" },
  p: { do: "point" },
  h: { do: "runner" },
  z: { do: "undo" },
  Z: { do: "redo" },
};

/** Commands of other pages that mean nothing here. */
const unused = new Set(["view", "curve"]);

/** The command of a key press; `drawing` says that a tool is in hand, `held` that a point of a mark is. */
export function besideKey(event: Pressed, drawing: boolean, held: boolean, singleKeys: boolean): Key | null {
  const focus = event.target as { closest?: (selector: string) => unknown } | null;
  const within = (selector: string) => !!focus?.closest?.(selector);
  if (within("input:not([type=checkbox]), textarea, select, dialog, [contenteditable]")) return null;
  const command = event.ctrlKey || event.metaKey;
  if (command && !event.altKey && event.key.toLowerCase() === "z") return { do: event.shiftKey ? "redo" : "undo" };
  if (command && !event.altKey && event.key.toLowerCase() === "y") return { do: "redo" };
  const arrow = arrows[event.key];
  if (arrow && (drawing || held)) {
    const step = event.shiftKey ? 0.1 : command || event.altKey ? 10 : 1;
    return { do: "nudge", x: arrow[0] * step, y: arrow[1] * step };
  }
  if (event.key === "Escape" && (drawing || held)) return { do: "cancel" };
  if (drawing && event.key === "Enter" && !within("button, a, summary, input")) return { do: "place" };
  if (held && !command && !event.altKey && (event.key === "Delete" || event.key === "Backspace")) return { do: "delete" };
  if (singleKeys && !command && !event.altKey) {
    const own = single[event.key];
    if (own) return own;
  }
  const other = shortcut(event, singleKeys);
  return other && unused.has(other.do) ? null : other;
}
