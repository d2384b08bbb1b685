// Accessibility of a page as it stands, in light and in dark, and whether it is too wide.
import assert from "node:assert/strict";
import { join } from "node:path";
import axe from "axe-core";

// Of what is not wrong axe then names one example each, which is much quicker.
const wanted = { resultTypes: ["violations"] };

// The page is the same in light and dark but for its colours.
const rules = { light: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], dark: { type: "rule", values: ["color-contrast", "link-in-text-block"] } };

/** What axe finds wrong, of the rules for light or for dark. */
export async function faults(page, scheme = "light") {
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axe.source);
  const found = await page.evaluate(async (o) => (await globalThis.axe.run(document, o)).violations, { ...wanted, runOnly: rules[scheme] });
  return found.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(" | ")}`);
}

/** Looks at the page in both; shots is a folder for pictures, if any. */
export async function sound(page, name, { shots, fullPage = true } = {}) {
  // At its end the bar at the foot covers nothing, which it may by half wherever the page was left.
  if (fullPage) await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
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

/** axe finds nothing wrong by any of its rules; it goes by the debugger, since a page's own policy may forbid strange scripts. */
export async function flawless(page, where) {
  const session = await page.context().newCDPSession(page);
  await session.send("Runtime.evaluate", { expression: axe.source });
  const { result } = await session.send("Runtime.evaluate", {
    expression: `axe.run(document, ${JSON.stringify(wanted)}).then((r) => JSON.stringify(r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.target + ' ' + n.failureSummary).join(' | '))))`,
    awaitPromise: true,
    returnByValue: true,
  });
  await session.detach();
  assert.deepEqual(JSON.parse(result.value), [], "accessibility of " + where);
}
