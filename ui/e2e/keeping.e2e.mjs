// Keeping data and giving it up, in the studio's page: a backup saved, checked, and
// put back into an empty studio; a runner's data taken away; a consent taken back;
// the trail; a runner erased. PAGE is the program's address, EMPTY that of an empty
// studio, CHROMIUM the browser, OUT a folder, SHOTS one for pictures.
import assert from "node:assert/strict";
import { mkdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, EMPTY, OUT, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
const empty = EMPTY.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });
const words = "ladder pigeon nine copper";

const browser = await launch();
const errors = [];
async function open(options = {}) {
  const context = patient(await browser.newContext({ viewport: { width: 1400, height: 900 }, acceptDownloads: true, locale: "en-GB", ...options }));
  const page = await context.newPage();
  page.on("pageerror", (e) => errors.push(String(e)));
  page.on("request", (r) => {
    const u = new URL(r.url());
    if (u.protocol.startsWith("http") && u.hostname !== "127.0.0.1") errors.push("asked for " + r.url());
  });
  return page;
}
const shot = async (name, on) => SHOTS && (await on.screenshot({ path: path.join(SHOTS, name + ".png"), fullPage: true }));
const clean = (where, on) => flawless(on, where);
const api = async (way, to, body) => {
  const res = await fetch(base + to, { method: way, headers: { "Content-Type": "application/json", "Gaitwright-Who": "Ida" }, body: body === undefined ? undefined : JSON.stringify(body) });
  const out = await res.json();
  assert.ok(res.ok, `${way} ${to}: ${JSON.stringify(out)}`);
  return out;
};

const day = new Date().toISOString().slice(0, 10);
const ada = await api("POST", "/api/runners", { name: "Ada Lind (invented)" });
const { visits: _, ...plain } = ada;
await api("PUT", `/api/runners/${ada.id}`, { ...plain, visits: [], height_m: 1.75, consent: { filming: day, records: day, research: null } });
const visit = await api("POST", `/api/runners/${ada.id}/visits`, { date: day });
await api("POST", "/api/runners", { name: "Bo Stays (invented)" });

// A backup is saved, and checked.
const page = await open();
await page.goto(`${base}/settings`);
await page.getByRole("link", { name: "Look after the data" }).click();
await page.getByRole("heading", { name: "Keeping data", level: 1 }).waitFor();
await page.getByText("No backup was made yet").waitFor();
await page.getByLabel("Passphrase", { exact: true }).first().fill(words);
await page.getByLabel("The passphrase once more").fill("something else");
await page.getByRole("button", { name: "Save a backup" }).click();
await page.getByRole("alert").getByText("not the same").waitFor();
await page.getByLabel("The passphrase once more").fill(words);
const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Save a backup" }).click()]);
const file = path.join(OUT, download.suggestedFilename());
await download.saveAs(file);
assert.match(download.suggestedFilename(), /^gaitwright-\d{4}-\d\d-\d\d\.age$/);
assert.ok(readFileSync(file).subarray(0, 22).toString() === "age-encryption.org/v1\n");
await page.getByText("The browser saves it now").waitFor();
await page.getByLabel("Backup file").setInputFiles(file);
await page.locator("#check-words").fill("not the passphrase");
await page.getByRole("button", { name: "Check it" }).click();
await page.getByRole("alert").getByText("not the passphrase the backup was made with").waitFor();
await page.locator("#check-words").fill(words);
await page.getByRole("button", { name: "Check it" }).click();
await page.getByText("It is whole: 2 runners").waitFor();
await page.getByText(/Last backup:/).waitFor();
assert.equal(await page.getByRole("button", { name: "Put it back" }).count(), 0, "a studio with records offers to overwrite them");
await page.getByRole("button", { name: "Show the list" }).click();
await page.getByRole("cell", { name: "Took in Ada Lind (invented)" }).waitFor();
await clean("keeping data", page);
await shot("keeping", page);
const phone = await open({ viewport: { width: 390, height: 844 }, colorScheme: "dark" });
await phone.goto(`${base}/keeping`);
await phone.getByRole("button", { name: "Show the list" }).click();
await phone.getByRole("cell", { name: "Took in Ada Lind (invented)" }).waitFor();
assert.ok(await phone.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "the page is wider than the phone");
await clean("keeping data on a phone, dark", phone);
await shot("keeping-phone", phone);
console.log("ok    a backup is saved, checked, and refused with another passphrase");

// Put back into an empty studio.
const fresh = await open();
await fresh.goto(`${empty}/keeping`);
await fresh.getByLabel("Backup file").setInputFiles(file);
await fresh.locator("#check-words").fill(words);
await fresh.getByRole("button", { name: "Put it back" }).click();
await fresh.getByText("Put back: 2 runners").waitFor();
await fresh.getByRole("link", { name: "To the runners" }).click();
await fresh.getByText("Ada Lind (invented)").first().waitFor();
console.log("ok    an empty studio has the runners back");

// A consent taken back is asked first.
await page.goto(`${base}/visits/${visit.id}/intake`);
await page.getByRole("button", { name: /^Take back.*records/i }).click();
await page.getByRole("dialog").getByText("means erasing everything").waitFor();
await shot("records-back", page);
await page.getByRole("button", { name: "Leave everything as it is" }).click();
await page.getByRole("button", { name: /^Take back.*film/i }).click();
const dialog = page.getByRole("dialog");
await dialog.getByText("All films of this runner").waitFor();
await clean("taking a consent back", page);
await dialog.getByRole("button", { name: "Take back and erase the films" }).click();
await page.waitForFunction(async (url) => (await (await fetch(url)).json()).consent.filming === null, `${base}/api/runners/${ada.id}`);
console.log("ok    taking a consent back says what it means and asks");

// The runner's page: everything taken away, the trail, erased.
await page.goto(`${base}/runners/${ada.id}`);
const [zip] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Save everything as a ZIP file" }).click()]);
assert.match(zip.suggestedFilename(), /^Ada-Lind-\(invented\)-.*\.zip$/);
await zip.saveAs(path.join(OUT, "ada.zip"));
assert.equal(readFileSync(path.join(OUT, "ada.zip")).subarray(0, 2).toString(), "PK");
await page.getByText("Who saw and changed what").click();
await page.getByRole("cell", { name: /Opened the visit of/ }).first().waitFor();
await page.setViewportSize({ width: 390, height: 844 });
assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= 390), "the runner's page with its list is wider than a phone");
await page.setViewportSize({ width: 1400, height: 900 });
await page.getByRole("button", { name: "Erase this runner…" }).click();
const ask = page.getByRole("dialog");
const erase = ask.getByRole("button", { name: "Erase for good" });
assert.ok(await erase.isDisabled(), "erases without the name");
await ask.getByLabel(/Type the name/).fill("Ada");
assert.ok(await erase.isDisabled(), "erases with a part of the name");
await ask.getByLabel(/Type the name/).fill("ada lind (invented)");
await clean("erasing a runner", page);
await shot("erase", page);
await erase.click();
await ask.getByText("Nothing of this runner was found").waitFor();
await clean("a runner erased", page);
await shot("erased", page);
await ask.getByRole("button", { name: "To the runners" }).click();
await page.getByText("Bo Stays (invented)").first().waitFor();
assert.equal(await page.getByText("Ada Lind").count(), 0);
console.log("ok    a runner's data are taken away, and the runner is erased by name");

// In German.
await phone.goto(`${base}/settings`);
await phone.locator('input[type=radio][value="de"]').check();
await phone.goto(`${base}/keeping`);
await phone.getByRole("heading", { name: "Daten aufbewahren" }).waitFor();
await shot("keeping-german", phone);

assert.deepEqual(errors, []);
await browser.close();
