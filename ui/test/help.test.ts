import { readdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { expect, it } from "vitest";
import { drawings, height, width, type HelpName } from "../src/help/drawings";
import { helpDe } from "../src/text/help.de";
import { helpEn } from "../src/text/help.en";

const names = Object.keys(drawings) as HelpName[];
const src = path.join(import.meta.dirname, "..", "src");

/** The words of all pages of a language, as they are written. */
const words = (language: string) =>
  readdirSync(path.join(src, "text"))
    .filter((f) => f === `${language}.ts` || f.endsWith(`.${language}.ts`))
    .filter((f) => !f.startsWith("help."))
    .map((f) => readFileSync(path.join(src, "text", f), "utf8"))
    .join("\n");

it.each([
  ["English", helpEn, "en", /“([^”]+)”/g],
  ["German", helpDe, "de", /„([^“]+)“/g],
] as const)("%s: three sentences and one drawing a page, which name what is on the screen", (_, help, language, quoted) => {
  expect(Object.keys(help.pages)).toEqual(names);
  for (const name of names) {
    const { three, drawn } = help.pages[name];
    expect(three).toHaveLength(3);
    for (const s of three) expect(s, name).toMatch(/^[\p{Lu}“„].{20,200}\.$/u);
    for (const s of three) expect(s.replace(/\.$/, "").match(/[.!?] /), `${name} is one sentence: ${s}`).toBeNull();
    expect(drawn, name).toMatch(/\.$/);
    for (const s of three) for (const [, label] of s.matchAll(quoted)) expect(words(language), label).toContain(`"${label}"`);
  }
});

it("draws within its frame and in one manner", () => {
  for (const name of names) {
    expect(new Set(drawings[name].map(([manner]) => manner)).has("point") || drawings[name].some(([m]) => m === "pointfull"), `${name} has a point`).toBe(true);
    for (const [, d] of drawings[name]) {
      expect(d, name).not.toMatch(/NaN|undefined/);
      // Absolute moves and lines stay inside.
      for (const [, x, y] of d.matchAll(/[ML](-?[\d.]+) (-?[\d.]+)/g)) {
        expect(Number(x), name).toBeGreaterThanOrEqual(2);
        expect(Number(x), name).toBeLessThanOrEqual(width - 2);
        expect(Number(y), name).toBeGreaterThanOrEqual(2);
        expect(Number(y), name).toBeLessThanOrEqual(height - 2);
      }
    }
  }
});
