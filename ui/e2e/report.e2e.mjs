// Drives the report of a visit in a real Chromium: a look at its pages on the
// station Handout, for whom, paper and language, the PDF, the page to print, and the
// studio's logo in the settings. By hand:
// PAGE=http://127.0.0.1:8787/ VISIT=01… node e2e/report.e2e.mjs
// SHOTS keeps screenshots in a folder.
import assert from "node:assert/strict";
import { join } from "node:path";
import { launch, shots } from "./checks.mjs";
import * as looked from "./sound.mjs";
import { patient } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8787/";
const visit = process.env.VISIT;
const browser = await launch();
let failed = 0;

/** Accessibility in light and dark, and whether the page is too wide. */
const sound = (page, name) => looked.sound(page, name, { shots });

/** The page of the report whose address has a part is shown and has arrived. */
const drawn = (page, part) => page.waitForFunction((part) => {
  const i = document.querySelector("[data-testid=report-page]");
  return i && i.getAttribute("src").includes(part) && i.complete && i.naturalWidth > 0;
}, part);

// A logo of 64 by 32 pixels, drawn in the browser.
async function logoFile(page) {
  const data = await page.evaluate(() => {
    const c = Object.assign(document.createElement("canvas"), { width: 64, height: 32 });
    const g = c.getContext("2d");
    g.fillStyle = "#00685a";
    g.fillRect(8, 4, 48, 24);
    return c.toDataURL("image/png").split(",")[1];
  });
  return { name: "logo.png", mimeType: "image/png", buffer: Buffer.from(data, "base64") };
}

for (const [width, viewport] of [["desk", { width: 1400, height: 900 }], ["phone", { width: 390, height: 844 }]]) {
  const context = patient(await browser.newContext({ locale: "en-GB", viewport, hasTouch: width === "phone", acceptDownloads: true }));
  const page = await context.newPage();
  const complaints = [];
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && complaints.push(m.text()));
  page.on("pageerror", (e) => complaints.push(e.message));
  try {
    await page.goto(`${page0}visits/${visit}/handout`);
    const report = page.getByTestId("report");
    await report.getByRole("heading", { name: "Report", exact: true }).waitFor();
    await drawn(page, "for=runner");
    await report.getByText("Page 1 of 2").waitFor();
    await sound(page, `${width}-report`);
    await report.getByRole("button", { name: "Next page" }).click();
    await drawn(page, "page=2");
    await report.getByText("Page 2 of 2").waitFor();
    assert.ok(await report.getByRole("button", { name: "Next page" }).isDisabled(), "there is a third page");
    await report.getByText("German", { exact: true }).click();
    await drawn(page, "lang=de");
    await report.getByText("Letter", { exact: true }).click();
    await drawn(page, "paper=letter");
    const saving = page.waitForEvent("download");
    await report.getByRole("link", { name: "Save as PDF" }).click();
    const file = await saving;
    assert.match(file.suggestedFilename(), /^report-runner-\d{4}-\d\d-\d\d\.pdf$/);
    await report.getByText("A clinician or coach", { exact: true }).click();
    await drawn(page, "for=clinician");
    // The page to print stands alone: two sheets, and nothing from outside.
    const sheet = await context.newPage();
    await sheet.goto(`${page0}api/visits/${visit}/report/html?for=runner`);
    assert.equal(await sheet.locator("section > svg").count(), 2);
    await sheet.close();
    // The logo.
    await page.goto(`${page0}settings`);
    const logo = page.getByTestId("logo");
    await logo.getByLabel("Logo on reports").setInputFiles({ name: "logo.png", mimeType: "image/png", buffer: Buffer.from("no picture") });
    await logo.getByText("This is no PNG or JPEG picture.").waitFor();
    complaints.splice(0, complaints.length, ...complaints.filter((c) => !c.includes("422")));
    await logo.getByLabel("Logo on reports").setInputFiles(await logoFile(page));
    await logo.getByText("The logo is saved.").waitFor();
    await logo.getByRole("img", { name: "The studio's logo" }).waitFor();
    await sound(page, `${width}-settings`);
    await logo.getByRole("button", { name: "Take the logo away" }).click();
    await logo.getByText("The logo was taken away.").waitFor();
    assert.deepEqual(complaints, [], "the browser complained");
    console.log(`ok    ${width}`);
  } catch (err) {
    failed++;
    console.log(`FAIL  ${width}\n${err.stack}`);
    if (shots) await page.screenshot({ path: join(shots, `fail-${width}.png`), fullPage: true }).catch(() => {});
  }
  await context.close();
}
await browser.close();
process.exit(failed ? 1 : 0);
