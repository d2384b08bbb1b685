// All runners together: what is seen most, what comes together, what happened under
// programmes, what is usual; the numbers taken away. PAGE is the address of a studio
// with many invented runners, CHROMIUM the browser, OUT a folder, SHOTS one for
// pictures.
import assert from "node:assert/strict";
import { mkdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, OUT, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });
const browser = await launch();
const errors = [];

for (const [name, options] of Object.entries({
  desk: { viewport: { width: 1400, height: 900 }, colorScheme: "light" },
  phone: { viewport: { width: 390, height: 844 }, colorScheme: "dark" },
})) {
  const context = patient(await browser.newContext({ ...options, acceptDownloads: true, locale: "en-GB" }));
  const page = await context.newPage();
  page.on("pageerror", (e) => errors.push(String(e)));
  await page.goto(base);
  // One's own studio offers the invented one; nothing of it is here.
  await page.getByRole("button", { name: "Look around" }).waitFor();
  assert.equal(await page.getByRole("note").filter({ hasText: "An invented studio" }).count(), 0);
  await page.getByRole("link", { name: "All runners" }).click();
  await page.getByRole("heading", { name: "All runners", level: 1 }).waitFor();
  const truth = await (await fetch(base + "/api/together")).json();
  await page.getByText(`${truth.runners} runners with ${truth.visits} visits`).waitFor();
  const bars = page.locator("#most li");
  assert.equal(await bars.count(), truth.findings.length);
  const first = truth.findings[0];
  assert.match(await bars.first().innerText(), new RegExp(`${first.k} of ${first.n}: ${Math.round(100 * first.share)} % \\(${Math.round(100 * first.low)} to ${Math.round(100 * first.high)}\\)`));
  assert.ok((await page.locator("#works table").count()) > 0, "no programme is shown");
  assert.ok((await page.locator("#usual li").count()) > 0, "no usual value is shown");
  // After one click both answers are in sight: what is seen most, and whether it works.
  if (name === "desk")
    for (const what of ["#most li", "#works h3"]) {
      const box = await page.locator(what).first().boundingBox();
      assert.ok(box.y + box.height < 900, `${what} is at ${box.y}`);
    }
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "the page is wider than the window");
  await flawless(page, "the " + name);
  if (SHOTS) await page.screenshot({ path: path.join(SHOTS, `${name}.png`), fullPage: true });
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Save as a ZIP file" }).click()]);
  await download.saveAs(path.join(OUT, "measures.zip"));
  assert.equal(readFileSync(path.join(OUT, "measures.zip")).subarray(0, 2).toString(), "PK");
  console.log(`ok    ${name}: what is seen, what happened, what is usual, and the numbers taken away`);
  await context.close();
}
assert.deepEqual(errors, []);
await browser.close();
