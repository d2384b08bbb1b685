// The plan of the demonstration's runner from the studio to the phone and back: her
// homework plays on a phone without a network, its log comes back as a file and as a
// picture of its code, three weeks of runs come back (one true, one just faster, one
// missed), and the visit after them tells these apart.
// PAGE is the program's address, CHROMIUM the browser, VISIT her first visit, BACK the
// one after three weeks of the ramp, MONDAY the ramp's first day, FILES a folder of run
// files, OUT one for what comes back, SHOTS one for pictures.
import assert from "node:assert/strict";
import { mkdirSync, readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { launch } from "./checks.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, VISIT, BACK, MONDAY, FILES, OUT, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await launch("--autoplay-policy=no-user-gesture-required");
const desk = await patient(await browser.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", acceptDownloads: true })).newPage();
const errors = [];
desk.on("pageerror", (e) => errors.push(String(e)));
const told = async (what) => (await fetch(`${base}/api/visits/${what}`)).json();

// The file is saved at the station Handout.
await desk.goto(`${base}/visits/${VISIT}/handout`);
const [file] = await Promise.all([desk.waitForEvent("download"), desk.getByRole("link", { name: "Save the homework file" }).click()]);
const sheet = path.join(OUT, "homework.html");
await file.saveAs(sheet);
const size = readFileSync(sheet).length;
assert.ok(size < 1.5e6, `the file has ${size} bytes`);

// On the phone, from the memory, without a network.
const phone = patient(await browser.newContext({ viewport: { width: 360, height: 740 }, deviceScaleFactor: 2, hasTouch: true, isMobile: true, acceptDownloads: true }));
await phone.setOffline(true);
const hand = await phone.newPage();
const asked = [];
hand.on("request", (r) => asked.push(r.url()));
hand.on("pageerror", (e) => errors.push(String(e)));
hand.on("console", (m) => m.type() === "error" && errors.push(m.text()));
const shot = async (name, on = hand) => SHOTS && (await on.screenshot({ path: path.join(SHOTS, name + ".png"), fullPage: true }));
const narrow = async (where) => assert.ok(await hand.evaluate(() => document.documentElement.scrollWidth <= innerWidth), where + " is wider than the phone");
// A day of the first week with exercises.
const plan = await told(`${VISIT}/plan`);
const day = new Date(`${MONDAY}T10:00:00Z`);
day.setUTCDate(day.getUTCDate() + plan.full_days[0]);
await hand.clock.install({ time: day });
await hand.clock.resume();
const url = pathToFileURL(sheet).href;
await hand.goto(url);
assert.match(await hand.locator("h1").textContent(), /Jule/);
assert.equal(await hand.locator("#week").inputValue(), "0", "the week of the day is chosen");
const items = new Set(plan.weeks[0].full.map((i) => i.exercise));
const titles = plan.exercises.filter((e) => items.has(e.name)).map((e) => e.title);
assert.ok(items.size >= 3 && titles.length === items.size, "the plan of the demonstration holds no exercises");
const words = await hand.locator("article").allInnerTexts();
for (const title of titles) assert.ok(words.some((x) => x.includes(title)), `${title} is not on the sheet`);
assert.ok((await hand.locator("article svg").count()) >= items.size, "figures are drawn");
await narrow("Exercises");
await shot("exercises");

// A timer runs to its end and ticks its exercise off; another is ticked by hand.
const first = hand.locator("article").first();
await first.getByRole("button", { name: /^Timer/ }).click();
await hand.clock.fastForward(6000);
await first.locator(".what", { hasText: "Work" }).waitFor();
await shot("timer");
await hand.clock.fastForward(1800_000);
await first.locator(".timer").waitFor({ state: "hidden" });
assert.ok(await first.locator("input[type=checkbox]").isChecked(), "done when the timer is over");
await hand.locator("article").nth(1).locator("input[type=checkbox]").check();

// The click sounds at the week's rate, each where it belongs by the clock of the sound.
const ramp = await told(`${VISIT}/steprate`);
await hand.getByRole("tab", { name: "Run" }).click();
assert.equal(Number(await hand.locator(".rate").first().textContent()), Math.round(ramp.weeks[0].at[0].per_min), "the rate of the first week");
await hand.getByRole("button", { name: "Start the click" }).click();
await hand.getByRole("button", { name: "Check the click" }).click();
await hand.waitForFunction(() => Number(document.querySelector("[data-worst]")?.dataset.clicks) >= 8);
const worst = Number(await hand.locator("[data-worst]").getAttribute("data-worst"));
assert.ok(worst < 2, `a click is ${worst} ms off`);
await narrow("Run");
await shot("run");
await hand.getByRole("button", { name: "Stop the click" }).click();

// Pain, effort, a count and a note go into the log, which is given back both ways.
await hand.getByRole("tab", { name: "Log" }).click();
await hand.getByLabel("I ran").check();
await hand.getByLabel("Minutes run").fill("32");
await hand.getByLabel("How hard the run felt").selectOption("4");
await hand.getByLabel("Steps a minute you counted").fill("158");
await hand.getByLabel("Worst pain").selectOption("2");
await hand.getByLabel("Note").fill("Short steps, quiet knee");
await hand.getByLabel("Note").blur();
await narrow("Log");
await shot("log");
await hand.getByRole("tab", { name: "Send" }).click();
await hand.locator("svg.qr").waitFor();
await narrow("Send");
await shot("send");
const [log] = await Promise.all([hand.waitForEvent("download"), hand.getByRole("button", { name: "Save the log as a file" }).click()]);
await log.saveAs(path.join(OUT, "log.json"));
await hand.locator("svg.qr").screenshot({ path: path.join(OUT, "code.png") });
assert.deepEqual(asked.filter((u) => u !== url && !u.startsWith("blob:")), [], "the phone asked for something");

// The visit takes the file in, and the picture of the code says the same.
const take = (name) => desk.getByLabel("Choose the log file").setInputFiles(path.join(OUT, name));
await take("log.json");
await desk.getByText(/1 day taken in/).waitFor();
await desk.getByText("Short steps, quiet knee").waitFor();
await take("code.png");
await desk.getByText("This log is here already").waitFor();
await shot("came", desk);

// Three weeks of runs come back.
await desk.goto(`${base}/visits/${VISIT}/plan`);
const names = readdirSync(FILES);
await desk.getByTestId("runs").locator("input[type=file]").setInputFiles(names.map((n) => path.join(FILES, n)));
await desk.getByText(`${names.length} taken in.`).waitFor();

// The visit after them tells the three apart.
await desk.goto(`${base}/visits/${BACK}/return`);
const steps = desk.getByTestId("steps");
await steps.getByText(/1 reached, 1 just faster, 1 missed/).waitFor();
const rows = steps.locator("tbody tr").filter({ has: desk.locator("th[scope=row]") });
const weeks = (await told(`${BACK}/return`)).steps.runs.weeks.filter((k) => k.ramp_week > 0 && k.ramp_week < 4);
assert.deepEqual(weeks.map((k) => k.verdict), ["reached", "just faster", "missed"]);
for (const [i, word] of ["reached", "just faster", "missed"].entries()) assert.match((await rows.nth(i).innerText()).toLowerCase(), new RegExp(word), `week ${i + 1}`);
await desk.getByTestId("work").getByText(/weeks came back/).waitFor();
await shot("return", desk);
await desk.setViewportSize({ width: 390, height: 844 });
assert.ok(await desk.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "the return is wider than a phone");
await shot("return-phone", desk);
assert.deepEqual(errors, []);
await browser.close();
console.log(`demo: a file of ${Math.round(size / 1000)} kB, ${items.size} exercises, clicks at worst ${worst.toFixed(4)} ms off, three weeks told apart`);
