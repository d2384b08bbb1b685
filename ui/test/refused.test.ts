import { afterEach, expect, it, vi } from "vitest";
import { refusalOf, whyNot } from "../src/parts/refused";
import { shellEn } from "../src/text/shell.en";

afterEach(() => vi.unstubAllGlobals());

it.each([
  ["NotAllowedError", "denied"],
  ["SecurityError", "denied"],
  ["NotFoundError", "none"],
  ["OverconstrainedError", "none"],
  ["NotReadableError", "taken"],
  ["AbortError", "taken"],
  ["InvalidStateError", "other"],
] as const)("a browser's %s is told as %s, in the page's words", (name, refusal) => {
  vi.stubGlobal("navigator", { mediaDevices: {} });
  const err = new DOMException("The browser's own words", name);
  expect(refusalOf(err, true)).toBe(refusal);
  expect(whyNot(err, "camera")).toBe(shellEn.refused.camera[refusal]);
  expect(whyNot(err, "microphone")).toBe(shellEn.refused.microphone[refusal]);
});

it("a page that is given no devices at all says why", () => {
  vi.stubGlobal("navigator", {});
  expect(whyNot(new TypeError("Cannot read properties of undefined"), "camera")).toBe(shellEn.refused.camera.insecure);
});

it("what the program said stays", () => {
  vi.stubGlobal("navigator", { mediaDevices: {} });
  expect(whyNot(new Error("The runner has not agreed to be filmed."), "camera")).toMatch(/has not agreed/);
});
