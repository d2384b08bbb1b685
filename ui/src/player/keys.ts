// What each key does.

export type Command =
  | { do: "move"; by: number }
  | { do: "first" | "last" | "play" | "view" | "curve" | "keys" }
  | { do: "contact" | "toe-off"; by: 1 | -1 }
  | { do: "rate"; index: number }
  | { do: "show"; what: "skeleton" | "raw" | "angles" }
  /** A factor of 0 fits the picture again. */
  | { do: "zoom"; factor: number };

const single: Record<string, Command> = {
  "[": { do: "contact", by: -1 },
  ",": { do: "contact", by: -1 },
  "]": { do: "contact", by: 1 },
  ".": { do: "contact", by: 1 },
  "{": { do: "toe-off", by: -1 },
  ";": { do: "toe-off", by: -1 },
  "}": { do: "toe-off", by: 1 },
  ":": { do: "toe-off", by: 1 },
  "1": { do: "rate", index: 0 },
  "2": { do: "rate", index: 1 },
  "3": { do: "rate", index: 2 },
  "4": { do: "rate", index: 3 },
  v: { do: "view" },
  c: { do: "curve" },
  s: { do: "show", what: "skeleton" },
  r: { do: "show", what: "raw" },
  a: { do: "show", what: "angles" },
  "+": { do: "zoom", factor: 1.25 },
  "=": { do: "zoom", factor: 1.25 },
  "-": { do: "zoom", factor: 0.8 },
  "0": { do: "zoom", factor: 0 },
  "?": { do: "keys" },
};

type Pressed = Pick<KeyboardEvent, "key" | "shiftKey" | "altKey" | "ctrlKey" | "metaKey"> & { target: unknown };

/** The command of a key press, or null where the key belongs to what has the focus. */
export function shortcut(event: Pressed, singleKeys: boolean): Command | null {
  if (event.altKey || event.ctrlKey || event.metaKey) return null;
  const focus = event.target as { closest?: (selector: string) => unknown } | null;
  const within = (selector: string) => !!focus?.closest?.(selector);
  if (within("input:not([type=checkbox]), textarea, select, dialog, [contenteditable]")) return null;
  switch (event.key) {
    case "ArrowLeft":
      return { do: "move", by: event.shiftKey ? -10 : -1 };
    case "ArrowRight":
      return { do: "move", by: event.shiftKey ? 10 : 1 };
    case "Home":
      return { do: "first" };
    case "End":
      return { do: "last" };
    case " ":
      return within("button, a, summary, input") ? null : { do: "play" };
  }
  if (!singleKeys) return null;
  return single[event.key.length === 1 ? event.key.toLowerCase() : event.key] ?? null;
}
