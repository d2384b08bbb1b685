// Opens the runner's homework from a file, without a network, on a screen of a
// phone: what the page shows, its timers and click, what it keeps and gives back.
// SHEET names the file, CHROMIUM the browser, OUT a folder for what it gives back,
// SHOTS one for pictures.
import assert from "node:assert/strict";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { SHEET, SHEET_DE, SHEET_US, OUT, SHOTS } = process.env;
const url = pathToFileURL(path.resolve(SHEET)).href;
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await launch("--autoplay-policy=no-user-gesture-required");
const context = patient(await browser.newContext({ viewport: { width: 360, height: 740 }, deviceScaleFactor: 2, hasTouch: true, isMobile: true, acceptDownloads: true, timezoneId: "Europe/Berlin" }));
await context.setOffline(true);
const asked = [];
const page = await context.newPage();
// A day in the second week; the clock goes on.
await page.clock.install({ time: new Date("2026-03-11T09:00:00") });
await page.clock.resume();
page.on("request", (r) => asked.push(r.url()));
const errors = [];
page.on("pageerror", (e) => errors.push(String(e)));
page.on("console", (m) => m.type() === "error" && errors.push(m.text()));
const shot = async (name, on = page) => SHOTS && (await on.screenshot({ path: path.join(SHOTS, name + ".png"), fullPage: true }));
const clean = (where, on = page) => flawless(on, where);
const narrow = async (where, on = page) => assert.ok(await on.evaluate(() => document.documentElement.scrollWidth <= innerWidth), where + " is wider than the phone");

await page.goto(url);
assert.match(await page.locator("h1").textContent(), /Ada/);
assert.equal(await page.locator("#week").inputValue(), "1", "the week of the day is chosen");
assert.ok((await page.locator("article svg").count()) >= 4, "figures are drawn");
await narrow("Exercises");
await clean("Exercises");
await shot("exercises");

// A timer walks by the clock and ticks the exercise off at its end.
await page.clock.pauseAt(new Date("2026-03-11T10:00:00"));
const first = page.locator("article").first();
await first.getByRole("button", { name: /^Timer/ }).click();
assert.match(await first.locator(".what").textContent(), /Get ready/);
await page.clock.runFor(6000);
await first.locator(".what", { hasText: "Work" }).waitFor();
await page.clock.resume();
await shot("timer");
await clean("a timer");
await first.getByRole("button", { name: "Pause" }).click();
const before = await first.locator(".big").textContent();
await page.clock.runFor(20000); // with all that the page would have done meanwhile
assert.equal(await first.locator(".big").textContent(), before, "a paused timer stands");
await first.getByRole("button", { name: "Go on" }).click();
await page.clock.fastForward(1800_000);
await first.locator(".timer").waitFor({ state: "hidden" });
assert.ok(await first.locator("input[type=checkbox]").isChecked(), "done when the timer is over");

// By the keyboard alone.
const second = page.locator("article").nth(1).locator("input[type=checkbox]");
await second.focus();
await page.keyboard.press("Space");
assert.ok(await second.isChecked());
await page.getByRole("tab", { name: "Exercises" }).focus();
await page.keyboard.press("ArrowRight");
assert.equal(await page.getByRole("tab", { name: "Run" }).getAttribute("aria-selected"), "true");

// The click.
assert.equal(await page.locator(".rate").first().textContent(), "162", "week 2 of a ramp from 160");
await narrow("Run");
await page.evaluate(() => {
  // All that the state says, however briefly.
  window.states = [];
  new MutationObserver(() => window.states.push(document.querySelector(".state")?.textContent ?? "")).observe(document.body, { subtree: true, childList: true, characterData: true });
});
await page.getByRole("button", { name: "Start the click" }).click();
await page.waitForFunction(() => window.states.some((s) => /Click on/.test(s)));
assert.ok((await page.evaluate(() => window.states)).some((s) => /Count-in/.test(s)), "no count-in is told");
await page.getByRole("button", { name: "Check the click" }).click();
const heard = page.locator("[data-worst]");
await heard.waitFor();
// The page is kept busy meanwhile, after each click that is heard: the click must not care.
for (let i = 0; i < 6; i++) {
  const before = await page.evaluate(() => {
    const until = performance.now() + 250;
    while (performance.now() < until);
    return Number(document.querySelector("[data-worst]").dataset.clicks);
  });
  await page.waitForFunction((n) => Number(document.querySelector("[data-worst]").dataset.clicks) > n, before);
}
await page.waitForFunction(() => Number(document.querySelector("[data-worst]").dataset.clicks) >= 8);
const worst = Number(await heard.getAttribute("data-worst"));
const clicks = Number(await heard.getAttribute("data-clicks"));
console.log(`click: ${clicks} heard, worst ${worst.toFixed(4)} ms off its place`);
assert.ok(worst < 2, `a click is ${worst} ms off`);
await clean("Run");
await shot("run");
await page.getByRole("button", { name: "Stop the click" }).click();

// The log.
await page.getByRole("tab", { name: "Log" }).click();
await page.getByLabel("I ran").check();
await page.getByLabel("Minutes run").fill("32");
await page.getByLabel("How hard the run felt").selectOption("4");
await page.getByLabel("Steps a minute you counted").fill("163");
await page.getByLabel("Worst pain").selectOption("6");
await page.getByRole("alert").waitFor();
await clean("Log");
await shot("log");
await page.getByLabel("Worst pain").selectOption("2");
await page.getByLabel("Note").fill("Legs heavy after the hill");
await page.getByLabel("Note").blur();
await narrow("Log");

// It survives being loaded anew.
await page.reload();
await page.getByRole("tab", { name: "Exercises" }).click();
assert.ok(await page.locator("article").first().locator("input[type=checkbox]").isChecked(), "ticks survive");
await page.getByRole("tab", { name: "Log" }).click();
assert.equal(await page.getByLabel("Minutes run").inputValue(), "32");
assert.equal(await page.getByLabel("Note").inputValue(), "Legs heavy after the hill");

// It gives the log back.
await page.getByRole("tab", { name: "Send" }).click();
await page.locator("svg.qr").waitFor();
await page.getByText("The same in letters").click();
writeFileSync(path.join(OUT, "code.txt"), await page.locator("#code").inputValue());
await narrow("Send");
await clean("Send");
await shot("send");
const [down] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Save the log as a file" }).click()]);
await down.saveAs(path.join(OUT, "log.json"));

// Another week, by its date.
await page.locator("#week").selectOption("4");
await page.getByRole("tab", { name: "Run" }).click();
assert.equal(await page.locator(".rate").first().textContent(), "165");

// In US units the same sheet: other words for speed, pace and step, and the log as it
// was kept.
assert.match(await page.locator("main").innerText(), /at 10\.0 km\/h · 6:00 a kilometre · step 1\.01 m/);
const us = await context.newPage();
us.on("pageerror", (e) => errors.push(String(e)));
const usURL = pathToFileURL(path.resolve(SHEET_US)).href;
await us.setViewportSize({ width: 390, height: 844 });
await us.goto(usURL);
await us.locator("#week").selectOption("1");
const metric = /\bk(m|g|ilomet\w+)\b|\b[cm]m\b|centimet|\bmet(re|er)s?\b|\d\s*m\b/i;
for (const tab of ["Exercises", "Run", "Log", "Send"]) {
  await us.getByRole("tab", { name: tab }).click();
  const text = await us.locator("body").innerText();
  assert.ok(text.length > 100 && !metric.test(text), `metric in US units at ${tab}: ${metric.exec(text)}`);
  if (tab === "Run") {
    // 10 km/h are 6.2 mph, 579 s a mile of 1609.344 m; 162 a minute, so 1.029 m a step.
    assert.match(text, /at 6\.2 mph · 9:39 a mile · step 40\.5 in/);
    await narrow("Run in US units", us);
    await shot("us-run", us);
  }
}
const [again] = await Promise.all([us.waitForEvent("download"), us.getByRole("button", { name: "Save the log as a file" }).click()]);
assert.deepEqual(JSON.parse(readFileSync(await again.path(), "utf8")), JSON.parse(readFileSync(path.join(OUT, "log.json"), "utf8")), "the log is the same in both units");
await us.close();

// Where the browser keeps nothing, the page says so and goes on.
const shut = patient(await browser.newContext({ viewport: { width: 360, height: 740 }, deviceScaleFactor: 2, colorScheme: "dark" }));
await shut.addInitScript(() => Object.defineProperty(window, "localStorage", { get() { throw new DOMException("no", "SecurityError"); } }));
const bare = await shut.newPage();
bare.on("pageerror", (e) => errors.push(String(e)));
await bare.goto(pathToFileURL(path.resolve(SHEET_DE)).href);
assert.match(await bare.locator(".saved").textContent(), /lässt die Seite nichts behalten/);
await bare.locator("#week").selectOption("1");
await bare.locator("article input[type=checkbox]").first().check();
await bare.getByRole("tab", { name: "Senden" }).click();
await bare.locator("svg.qr").waitFor();
await clean("the dark sheet", bare);
await bare.getByRole("tab", { name: "Übungen" }).click();
await shot("dark-german", bare);
await bare.getByRole("tab", { name: "Laufen" }).click();
await narrow("Laufen", bare);
await clean("Laufen", bare);
await shot("dark-run", bare);

assert.deepEqual(asked.filter((u) => u !== url && !u.startsWith("blob:")), [], "the page asked for something");
assert.deepEqual(errors, [], "errors in the page");
await browser.close();
