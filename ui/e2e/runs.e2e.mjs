// Run files in the studio's page: a baseline from runs, three weeks that come back
// and are told apart, a file of another runner, a broken one, the watched folder.
// PAGE is the program's address, CHROMIUM the browser, FILES a folder of run files,
// WATCHED another, SHOTS one for pictures. The program's day is 30 March 2026.
import assert from "node:assert/strict";
import { mkdirSync, readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { asking, launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, FILES, WATCHED, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await launch();
const context = patient(await browser.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", colorScheme: "light" }));
const page = await context.newPage();
const errors = [];
page.on("pageerror", (e) => errors.push(String(e)));
const clean = (where) => flawless(page, where);
const ask = asking(base);
const api = (way, to, body) => ask(to, way, body);

const runner = await api("POST", "/api/runners", { name: "Ada (invented)" });
const { visits: _, ...plain } = runner;
await api("PUT", `/api/runners/${runner.id}`, { ...plain, visits: [], height_m: 1.75, consent: { filming: "2026-03-07", records: "2026-03-07", research: null, positions: null } });
const visit = await api("POST", `/api/runners/${runner.id}/visits`, { date: "2026-03-07" });
const ben = await api("POST", "/api/runners", { name: "Ben (invented)" });
await api("PUT", `/api/runners/${ben.id}`, { ...ben, visits: [], consent: { filming: null, records: "2026-03-07", research: null, positions: null } });
const visitOfBen = await api("POST", `/api/runners/${ben.id}/visits`, { date: "2026-03-07" });

await page.goto(`${base}/visits/${visit.id}/plan`);
const rate = page.getByTestId("steprate");
const runs = page.getByTestId("runs");
const pick = (names) => runs.locator("input[type=file]").setInputFiles(names.map((n) => path.join(FILES, n)));
const all = readdirSync(FILES);

// The runs of before give the baseline.
await pick(all.filter((n) => n.startsWith("before")));
await runs.getByText("6 taken in.").waitFor();
await rate.getByText("From runs of the watch").click();
await rate.getByText(/^From 6 runs of the watch/).waitFor();
await rate.getByLabel("Easy pace for which the runs are asked").fill("2.78 m/s");
await rate.getByLabel("Easy pace for which the runs are asked").blur();
await rate.getByText(/at 2\.78 m\/s/).first().waitFor();
await rate.getByLabel("Yes", { exact: true }).check({ force: true });
await rate.getByLabel("Target, steps a minute").fill("172");
await rate.getByLabel("Target, steps a minute").blur();
await rate.getByLabel("Steps more a week").fill("3");
await rate.getByLabel("Steps more a week").blur();
await rate.getByLabel("Weeks at the target").fill("3");
await rate.getByLabel("Weeks at the target").blur();

// Three weeks come back, dropped onto the page: another runner's and a broken file
// among them.
const bytes = all.filter((n) => !n.startsWith("before")).map((name) => ({ name, data: readFileSync(path.join(FILES, name)).toString("base64") }));
const transfer = await page.evaluateHandle((files) => {
  const t = new DataTransfer();
  for (const f of files) t.items.add(new File([Uint8Array.from(atob(f.data), (c) => c.charCodeAt(0))], f.name));
  return t;
}, bytes);
await page.dispatchEvent("body", "dragenter", { dataTransfer: transfer });
await runs.getByText("Drop run files to take them in").waitFor();
await page.dispatchEvent("body", "drop", { dataTransfer: transfer });
await runs.getByText("7 taken in.").waitFor();
await runs.getByText(/broken\.fit: .*damaged/).waitFor();

// The overlapping one and the run it overlaps are in doubt until a person says.
const list = runs.getByTestId("run-list");
assert.equal(await list.getByText(/one runner cannot have run both/).count(), 2);
const row = (name) => list.locator("li").filter({ hasText: name });
// It is given to the runner whose it is; Undo takes that back, and it is given again.
const doubts = list.getByText(/one runner cannot have run both/);
const give = async () => {
  await row("another.fit").first().getByRole("button", { name: "another.fit is another runner’s…" }).click();
  await list.getByLabel("Whose it is").selectOption({ label: "Ben (invented)" });
  await list.getByRole("button", { name: "Give it to them" }).click();
  await runs.getByText("another.fit is now among the runs of Ben (invented). Undo takes it back.").waitFor();
  await doubts.first().waitFor({ state: "detached" });
};
await give();
assert.deepEqual((await api("GET", `/api/visits/${visitOfBen.id}/runs`)).runs.map((r) => r.name), ["another.fit"]);
await page.getByRole("button", { name: "Undo", exact: true }).click();
await doubts.nth(1).waitFor();
assert.equal((await api("GET", `/api/visits/${visitOfBen.id}/runs`)).runs.length, 0);
await give();

// The weeks are told apart.
const weeks = runs.getByTestId("run-weeks");
const week = (n) => weeks.locator("li").filter({ hasText: `ramp week ${n}` });
await week(1).getByText(/^✓ Reached$/).waitFor();
await week(1).getByText(/Reached: 16\d\.\d steps a minute/).waitFor();
await week(2).getByText(/Just faster, not quicker steps: the runs were 0\.9\d m\/s faster/).waitFor();
await week(3).getByText("Missed: no run of this week came back.").waitFor();
await week(4).getByText(/^… Under way$/).waitFor();
await runs.getByTestId("rate-plot").locator("rect.dot.now").nth(5).waitFor();

// The last week that was run was only faster.
await runs.getByTestId("runs-verdict").getByText(/Just faster, not quicker steps/).waitFor();

// A missed week is entered into the ramp.
await week(3).getByRole("button", { name: "Enter into the ramp" }).click();
await week(3).getByText("✓ entered").waitFor();

// The same file again is not taken in twice.
await pick(["true-0.tcx"]);
await runs.getByText("0 taken in, 1 there already.").waitFor();

// The watched folder offers its file and keeps it.
await runs.getByText("Watched folder").click();
await runs.getByLabel("Folder, from its root").fill(WATCHED);
await runs.getByRole("button", { name: "Watch it" }).click();
await runs.getByText(/sunday\.fit/).waitFor();
await runs.getByText("the watch of Ada (invented)").waitFor();
// The first page says it too.
await page.goto(base);
await page.getByTestId("waiting-runs").getByText("1 file in the watched folder").waitFor();
await clean("the first page, with a file that waits");
if (SHOTS) await page.screenshot({ path: path.join(SHOTS, "waiting-1400.png") });
await page.getByTestId("waiting-runs").getByRole("link", { name: "Ada (invented)" }).click();
await runs.getByRole("button", { name: "Take in for this runner: sunday.fit" }).click();
await runs.getByText("1 of its files is taken in already.").waitFor();
assert.ok(readdirSync(WATCHED).includes("sunday.fit"), "the file stays in the folder");

await clean("the runs");
for (const look of ["light", "dark"]) {
  await page.emulateMedia({ colorScheme: look });
  for (const width of [1400, 390]) {
    await page.setViewportSize({ width, height: 900 });
    await page.waitForFunction(() => document.querySelector("[data-testid=rate-plot] > svg"));
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `wider than ${width}`);
    if (SHOTS) {
      await runs.screenshot({ path: path.join(SHOTS, `runs-${look}-${width}.png`) });
      await rate.screenshot({ path: path.join(SHOTS, `rate-${look}-${width}.png`) });
    }
  }
}
await clean("the runs in the dark");

// Every number of the ramp on the page is the one that is told, week by week.
await page.setViewportSize({ width: 1400, height: 900 });
const told = await api("GET", `/api/visits/${visit.id}/steprate`);
assert.ok(told.weeks.length >= 4);
assert.equal(await rate.locator("tbody tr").count(), told.weeks.length);
for (const x of told.weeks) {
  for (const [what, v] of [["steps/min", Math.round(x.per_min * 10) / 10], ["Run, min", x.run_min], ["click on, min", x.on_min], ["off, min", x.off_min]])
    assert.equal(Number(await rate.locator("tbody tr").nth(x.number - 1).locator("input").nth(["steps/min", "Run, min", "click on, min", "off, min"].indexOf(what)).inputValue()), v, `week ${x.number}, ${what}`);
  const cells = await rate.locator("tbody tr").nth(x.number - 1).innerText();
  for (const a of x.at) assert.ok(cells.includes(a.per_min.toFixed(0)) && cells.includes(a.step_length_m.toFixed(2)), `week ${x.number}: ${cells}`);
}
assert.ok((await rate.innerText()).includes(`${told.base.per_min.toFixed(1)} ± ${(1.96 * told.base.sem).toFixed(1)}`), "the baseline with its error");

// The visit that follows tells the three weeks apart too.
const later = await api("POST", `/api/runners/${runner.id}/visits`, { date: "2026-03-30" });
await page.goto(`${base}/visits/${later.id}/return`);
const back = page.getByTestId("steps");
await back.getByText(/1 reached, 1 just faster, 1 missed/).waitFor();
const rows = back.locator("tbody tr");
const apart = (await api("GET", `/api/visits/${later.id}/return`)).steps.runs.weeks.filter((k) => k.ramp_week > 0 && k.ramp_week < 4);
assert.deepEqual(apart.map((k) => k.verdict), ["reached", "just faster", "missed"]);
for (const [i, word] of ["reached", "just faster", "missed"].entries()) assert.match((await rows.filter({ hasText: word }).first().innerText()).toLowerCase(), new RegExp(word), `week ${i + 1}`);
for (const width of [1400, 390]) {
  await page.setViewportSize({ width, height: 900 });
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `the return is wider than ${width}`);
  if (SHOTS) await back.screenshot({ path: path.join(SHOTS, `return-${width}.png`) });
}
await clean("the return with runs");

// In German.
await page.setViewportSize({ width: 1400, height: 900 });
await page.goto(`${base}/settings`);
await page.getByText("Deutsch").click();
await page.goto(`${base}/visits/${visit.id}/plan`);
await week3de();
async function week3de() {
  const w = runs.getByTestId("run-weeks").locator("li");
  await w.filter({ hasText: "Rampenwoche 2" }).getByText(/Nur schneller gelaufen, nicht schneller getreten/).waitFor();
  await w.filter({ hasText: "Rampenwoche 3" }).getByText("Ausgefallen: Kein Lauf dieser Woche kam zurück.").waitFor();
  if (SHOTS) await runs.screenshot({ path: path.join(SHOTS, "runs-de-1400.png") });
}
assert.deepEqual(errors, []);
await browser.close();
console.log("runs: baseline from files, three weeks told apart here and at the return, a stranger's and a broken file, the watched folder");
