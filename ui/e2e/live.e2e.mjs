// The live view in the studio's page: an invented runner before the camera, read by
// the pose model while he runs. PAGE is the program's address, CHROMIUM the browser,
// CAMERA the film that it takes for a camera, RATE, LEFT and RIGHT what is true of the
// runner, SHOTS a folder for pictures.
import assert from "node:assert/strict";
import { createRequire } from "node:module";
import { mkdirSync, readFileSync } from "node:fs";
import path from "node:path";
import { chromium } from "playwright-core";

const { PAGE, CHROMIUM, CAMERA, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
const truth = { rate: Number(process.env.RATE), left: Number(process.env.LEFT), right: Number(process.env.RIGHT) };
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await chromium.launch({ executablePath: CHROMIUM, args: ["--autoplay-policy=no-user-gesture-required", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-video-capture=${CAMERA}`] });
const context = await browser.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", permissions: ["camera", "microphone"] });
const page = await context.newPage();
const errors = [];
page.on("pageerror", (e) => errors.push(String(e)));
const asked = [];
page.on("request", (r) => asked.push(r.url()));
const shot = async (name) => SHOTS && (await page.screenshot({ path: path.join(SHOTS, name + ".png") }));
const clean = async (where) => {
  const session = await context.newCDPSession(page);
  await session.send("Runtime.evaluate", { expression: axe });
  const { result } = await session.send("Runtime.evaluate", { expression: "axe.run(document).then((r) => JSON.stringify(r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.target + ' ' + n.failureSummary).join(' | '))))", awaitPromise: true, returnByValue: true });
  assert.deepEqual(JSON.parse(result.value), [], "accessibility of " + where);
};
const api = async (way, to, body) => {
  const res = await fetch(base + to, { method: way, headers: { "Content-Type": "application/json" }, body: body === undefined ? undefined : JSON.stringify(body) });
  const out = await res.json();
  assert.ok(res.ok, `${way} ${to}: ${JSON.stringify(out)}`);
  return out;
};

const runner = await api("POST", "/api/runners", { name: "Ada (invented)" });
const visit = await api("POST", `/api/runners/${runner.id}/visits`, {});
await page.goto(`${base}/visits/${visit.id}/plan`);
const part = page.getByTestId("steprate");

// Without consent the camera stays off.
await part.getByRole("button", { name: "Watch by camera" }).click();
await part.getByRole("alert").filter({ hasText: "has not agreed to be filmed" }).waitFor();
assert.equal(await page.locator("video").count(), 0, "the camera's picture is shown without consent");

const day = new Date().toISOString().slice(0, 10);
const now = await (await fetch(`${base}/api/runners/${runner.id}`)).json();
const { visits: _, ...plain } = now;
await api("PUT", `/api/runners/${runner.id}`, { ...plain, visits: [], height_m: 1.75, consent: { filming: day, records: day, research: null } });
const before = await (await fetch(`${base}/api/visits/${visit.id}`)).json();
await part.getByLabel("Steps a minute", { exact: true }).fill("166");
await part.getByLabel("Steps a minute", { exact: true }).blur();
await part.getByRole("button", { name: "Watch by camera" }).click();
const seen = part.getByTestId("seen");
await seen.waitFor();
await page.waitForFunction(() => Number(document.querySelector('[data-testid="seen"]')?.getAttribute("data-per-min")) > 0, null, { timeout: 120000 });
// The reading looks back eight seconds. A stand-in for a camera that stalls slows its
// runner: the grey of the picture's corner, which counts the film's 180 pictures, tells
// how fast he really ran in that time.
const spell = await page.evaluate(async () => {
  const video = document.querySelector('[data-testid="seen"] video');
  const brush = Object.assign(document.createElement("canvas"), { width: 24, height: 24 }).getContext("2d", { willReadFrequently: true });
  const stamps = [];
  await new Promise((done) => {
    const tick = (now, meta) => {
      brush.drawImage(video, 0, 0, 24, 24, 0, 0, 24, 24);
      const grey = brush.getImageData(8, 8, 8, 8).data.filter((_, i) => i % 4 === 1).reduce((a, b) => a + b, 0) / 64;
      stamps.push([(meta.captureTime ?? now) / 1000, grey - 20]);
      if (stamps.at(-1)[0] - stamps[0][0] < 8.3) video.requestVideoFrameCallback(tick);
      else done();
    };
    video.requestVideoFrameCallback(tick);
  });
  const d = document.querySelector('[data-testid="seen"]').dataset;
  const number = (x) => (x === undefined ? null : Number(x));
  const ahead = Object.fromEntries(["left", "right"].map((s) => { const e = document.querySelector(`[data-testid="ahead-${s}"]`)?.dataset; return [s, { m: number(e?.m), error: number(e?.error) }]; }));
  return { perMin: number(d.perMin), error: number(d.error), late: number(d.late), rateHz: number(d.rateHz), ahead, stamps };
});
const turns = [];
for (const [t, n] of spell.stamps) {
  const last = turns.at(-1)?.[1] ?? n;
  turns.push([t, n + 180 * Math.round((last + 1 - n) / 180)]);
}
const mean = (k) => turns.reduce((a, x) => a + x[k], 0) / turns.length;
const [mt, mn] = [mean(0), mean(1)];
const playedHz = turns.reduce((a, [t, n]) => a + (t - mt) * (n - mn), 0) / turns.reduce((a, [t]) => a + (t - mt) ** 2, 0);
const ran = (truth.rate * playedHz) / 30;
console.log(`seen ${spell.perMin} ± ${spell.error} steps a minute, true ${ran.toFixed(1)} (film at ${playedHz.toFixed(2)} pictures a second); ${spell.rateHz.toFixed(1)} a second read, ${spell.late.toFixed(0)} ms behind`);
assert.ok(playedHz > 10 && playedHz < 31, `the film runs at ${playedHz}`);
assert.ok(spell.error > 0 && spell.error < 5, `an error of ${spell.error}`);
// Three standard errors where two are stated: a try in twenty may be outside of those.
assert.ok(Math.abs(spell.perMin - ran) <= 1.5 * spell.error + 0.05, `${spell.perMin} ± ${spell.error} against ${ran}`);
for (const side of ["left", "right"]) {
  const { m, error } = spell.ahead[side];
  if (m === null) console.log(`${side}: overstride withheld`);
  else {
    console.log(`${side}: overstride ${(100 * m).toFixed(1)} ± ${(100 * error).toFixed(1)} cm, true ${(100 * truth[side]).toFixed(1)}`);
    assert.ok(Math.abs(m - truth[side]) <= error, `${side} ${m} ± ${error} against ${truth[side]}`);
  }
}
assert.ok(spell.rateHz < 12 || spell.ahead.left.m !== null || spell.ahead.right.m !== null, "no overstride at a good rate of pictures");
await seen.getByText(/quicker, to 166/).waitFor({ timeout: 120000 });
await seen.getByText(/pictures a second, read \d+ ms after each/).waitFor();
await clean("the live view");
await seen.scrollIntoViewIfNeeded();
await shot("seen");
await seen.getByRole("button", { name: "Large" }).click();
await clean("the large live view");
await shot("large");
await page.emulateMedia({ colorScheme: "dark" });
await shot("large-dark");
await page.setViewportSize({ width: 390, height: 844 });
await shot("large-phone-dark");
assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "the live view is wider than a phone");
await page.emulateMedia({ colorScheme: "light" });
await shot("large-phone");
await page.keyboard.press("Escape");
await seen.getByRole("button", { name: "Large" }).waitFor();
await seen.scrollIntoViewIfNeeded();
await shot("seen-phone");
await part.getByRole("button", { name: "Stop watching" }).click();
await seen.waitFor({ state: "detached" });
await page.waitForFunction(() => !document.querySelector("video"));
// Nothing was kept, and nothing went anywhere else.
const after = await (await fetch(`${base}/api/visits/${visit.id}`)).json();
assert.deepEqual(after.clips, before.clips);
assert.equal(after.version, before.version);
assert.deepEqual(asked.filter((u) => !u.startsWith(base) && !u.startsWith("data:")), [], "asked elsewhere");
assert.deepEqual(errors, []);
await browser.close();
