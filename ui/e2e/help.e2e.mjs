// The help of each page and the handbook: open by itself the first time, then by
// its button and by its key, beside the work; the handbook read without a network.
// PAGE is the program's address, CHROMIUM the browser, SHOTS a folder for pictures.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import path from "node:path";
import { launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await launch();
const errors = [];
async function open(options = {}) {
  const context = patient(await browser.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", ...options }));
  const page = await context.newPage();
  page.on("pageerror", (e) => errors.push(String(e)));
  page.on("console", (m) => m.type() === "error" && errors.push(m.text()));
  page.on("request", (r) => {
    const u = new URL(r.url());
    if (u.protocol.startsWith("http") && u.hostname !== "127.0.0.1") errors.push("asked for " + r.url());
  });
  return page;
}
const shot = async (name, on) => SHOTS && (await on.screenshot({ path: path.join(SHOTS, name + ".png") }));
const clean = async (where, on) => {
  await flawless(on, where);
  assert.ok(await on.evaluate(() => document.documentElement.scrollWidth <= innerWidth), where + " is wider than the screen");
};
const api = async (to, body) => {
  const res = await fetch(base + to, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  assert.ok(res.ok, to);
  return res.json();
};

const runner = await api("/api/runners", { name: "Ada Lind (invented)" });
const visit = await api(`/api/runners/${runner.id}/visits`, { date: new Date().toISOString().slice(0, 10) });
const stations = { intake: "Intake", film: "Film", measure: "Measure", exam: "Exam", findings: "Findings", plan: "Plan", handout: "Handout", return: "Return" };

// Each station and each page beside them: open the first time, closed the next.
const page = await open();
for (const [name, title] of [...Object.entries(stations), ["settings", "Settings"], ["keeping", "Keeping data"], ["together", "All runners"]]) {
  const address = stations[name] ? `/visits/${visit.id}/${name}` : `/${name}`;
  await page.goto(base + address);
  const help = page.getByRole("region", { name: `Help: ${title}`, exact: true });
  await help.waitFor();
  assert.ok((await help.getByRole("img").getAttribute("aria-label")).length > 20, `${name}: the drawing in words`);
  assert.equal(await help.locator(".three span").count(), 3, `${name}: three sentences`);
  assert.equal(await page.evaluate(() => !!document.activeElement?.closest("#help")), false, "the help takes the focus");
  await clean(name, page);
  await shot(name, page);
  const button = page.getByRole("button", { name: "Help", exact: true });
  assert.equal(await button.getAttribute("aria-expanded"), "true");
  await button.click();
  await help.waitFor({ state: "detached" });
  await page.reload();
  await button.waitFor();
  assert.equal(await button.getAttribute("aria-expanded"), "false", `${name}: open again the second time`);
}

// The key, where one types it goes into the field; the list of keys has it.
await page.goto(`${base}/visits/${visit.id}/intake`);
await page.getByRole("button", { name: "Help", exact: true }).waitFor();
const help = page.getByRole("region", { name: "Help: Intake" });
await page.keyboard.press("h");
await help.waitFor();
await page.getByLabel("What brings them here").fill("the hip");
await page.getByLabel("What brings them here").press("h");
assert.equal(await help.count(), 1, "a letter typed closes the help");
await page.getByRole("heading", { name: "Intake", level: 1 }).click();
await page.keyboard.press("?");
const keys = page.getByRole("dialog", { name: "Keys" });
await keys.getByText("help for this page, open or closed").waitFor();
await page.keyboard.press("h");
assert.equal(await help.count(), 1, "the key acts behind the list");
await page.keyboard.press("Escape");
await keys.waitFor({ state: "hidden" });
await help.getByRole("button", { name: "Close the help" }).click();
await help.waitFor({ state: "detached" });

// From the help into the handbook, at the place; on to other pages, and by the foot.
await page.keyboard.press("h");
await help.getByRole("link", { name: "More in the handbook" }).click();
await page.getByRole("heading", { name: "Your first visit", level: 1 }).waitFor();
await page.waitForFunction(() => document.activeElement?.id === "intake");
await clean("the handbook", page);
await shot("handbook", page);
await page.getByRole("article").getByRole("link", { name: "How to film" }).first().click();
await page.getByRole("heading", { name: "How to film", level: 1 }).waitFor();
assert.equal(new URL(page.url()).pathname, "/handbook/filming");
await page.getByRole("navigation", { name: "Pages of the handbook" }).getByRole("link", { name: "How it reasons" }).click();
await page.getByRole("heading", { name: "How it reasons", level: 1 }).waitFor();
await clean("the reasoning", page);
await page.goto(`${base}/handbook/none`);
await page.getByRole("alert").getByText("The handbook has no such page").waitFor();
errors.length = 0; // the browser tells of the page that was not found

// On a phone, in German and dark.
const phone = await open({ viewport: { width: 390, height: 844 }, locale: "de-DE", colorScheme: "dark" });
await phone.goto(`${base}/visits/${visit.id}/film`);
await phone.getByRole("region", { name: "Hilfe: Film" }).waitFor();
await clean("the help on a phone", phone);
await shot("film-phone", phone);
await phone.getByRole("link", { name: "Handbuch", exact: true }).click();
await phone.getByText("Das Handbuch ist auf Englisch geschrieben").waitFor();
await clean("the handbook on a phone", phone);
await shot("handbook-phone", phone);

assert.deepEqual(errors, []);
await browser.close();
console.log("help of eleven pages and the handbook");
