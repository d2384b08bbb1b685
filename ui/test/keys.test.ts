import { describe, expect, it } from "vitest";
import { shortcut } from "../src/player/keys";
import { en } from "../src/text/en";

const within = (tag: string) => ({ closest: (selector: string) => (selector.split(", ").some((s) => s === tag || s.startsWith(tag + ":")) ? {} : null) });
const press = (key: string, more: object = {}) => ({ key, shiftKey: false, altKey: false, ctrlKey: false, metaKey: false, target: null, ...more });

describe("keys", () => {
  it("step by one, by ten, and to the ends", () => {
    expect(shortcut(press("ArrowRight"), true)).toEqual({ do: "move", by: 1 });
    expect(shortcut(press("ArrowLeft", { shiftKey: true }), true)).toEqual({ do: "move", by: -10 });
    expect(shortcut(press("Home"), true)).toEqual({ do: "first" });
    expect(shortcut(press("End"), true)).toEqual({ do: "last" });
  });
  it("leave the browser's own alone", () => {
    expect(shortcut(press("ArrowLeft", { altKey: true }), true)).toBeNull();
    expect(shortcut(press("r", { ctrlKey: true }), true)).toBeNull();
    expect(shortcut(press("Tab"), true)).toBeNull();
  });
  it("do nothing to what is being typed or pressed", () => {
    expect(shortcut(press("s", { target: within("textarea") }), true)).toBeNull();
    expect(shortcut(press(" ", { target: within("button") }), true)).toBeNull();
    expect(shortcut(press(" "), true)).toEqual({ do: "play" });
    expect(shortcut(press("ArrowRight", { target: within("button") }), true)).toEqual({ do: "move", by: 1 });
  });
  it("of one character can be switched off, and then all are", () => {
    for (const key of ["[", "]", ",", ".", "v", "c", "s", "r", "a", "1", "+", "0", "?"]) {
      expect(shortcut(press(key), true), key).not.toBeNull();
      expect(shortcut(press(key), false), key).toBeNull();
    }
    expect(shortcut(press("ArrowRight"), false)).not.toBeNull();
    expect(shortcut(press(" "), false)).not.toBeNull();
  });
  it("take capitals too", () => expect(shortcut(press("V"), true)).toEqual({ do: "view" }));
  it("are all in the list that is shown", () => {
    const listed = en.keys.list.map(([k]) => k).join(" ");
    for (const key of ["[", "]", ",", ".", ";", ":", "V", "C", "S", "R", "A", "1", "4", "+", "0", "?", "Space", "Home", "End", "←", "→"]) expect(listed).toContain(key);
  });
});
