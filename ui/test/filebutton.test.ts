import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

// The browser's own button speaks the browser's language, not the page's.
describe("a file", () => {
  const src = join(import.meta.dirname, "../src");
  const inputs = readdirSync(src, { recursive: true, encoding: "utf8" })
    .filter((f) => f.endsWith(".svelte") && !f.endsWith("FileButton.svelte"))
    .flatMap((f) => [...readFileSync(join(src, f), "utf8").matchAll(/<input\b[^>]*?type="file"[\s\S]*?\/>/g)].map((m) => `${f}: ${m[0]}`));

  it("is chosen by a button in the page's language", () => {
    expect(inputs.length).toBeGreaterThan(0);
    expect(inputs.filter((i) => !/class="unseen"|\bhidden\b/.test(i))).toEqual([]);
  });
});
