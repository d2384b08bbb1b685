// Accessibility of a page as it stands, in light and in dark, and whether it is too wide.
import assert from "node:assert/strict";
import { join } from "node:path";
import axe from "axe-core";

// The page is the same in light and dark but for its colours.
const rules = { light: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], dark: { type: "rule", values: ["color-contrast", "link-in-text-block"] } };

/** What axe finds wrong, of the rules for light or for dark. */
export async function faults(page, scheme = "light") {
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axe.source);
  const found = await page.evaluate((runOnly) => globalThis.axe.run(document, { runOnly }), rules[scheme]);
  return found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(" | ")}`);
}

/** Looks at the page in both; shots is a folder for pictures, if any. */
export async function sound(page, name, { shots, fullPage = true } = {}) {
  for (const scheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: scheme });
    await page.waitForFunction((s) => document.documentElement.dataset.look === s, scheme);
    assert.deepEqual(await faults(page, scheme), [], `${name}, ${scheme}`);
    if (shots) await page.screenshot({ path: join(shots, `${name}-${scheme}.png`), fullPage });
  }
  await page.emulateMedia({ colorScheme: "light" });
  const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(over <= 0, `${name} is ${over} px too wide`);
}
