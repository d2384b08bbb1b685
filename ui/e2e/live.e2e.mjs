// The live view in the studio's page: an invented runner before the camera, read by
// the pose model while he runs. PAGE is the program's address, CHROMIUM the browser,
// CAMERA the film that it takes for a camera, RATE, LEFT and RIGHT what is true of the
// runner, SHOTS a folder for pictures.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import path from "node:path";
import { asking, launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, CAMERA, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
const truth = { rate: Number(process.env.RATE), left: Number(process.env.LEFT), right: Number(process.env.RIGHT) };
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const browser = await launch("--autoplay-policy=no-user-gesture-required", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-video-capture=${CAMERA}`);
const context = patient(await browser.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", permissions: ["camera", "microphone"] }));
const page = await context.newPage();
// What the page sends and is answered is noted beside it: when each picture was taken,
// its place in the film, told by the blocks in its corner, and the reading.
await page.addInitScript(() => {
  window.sent = [];
  let at = NaN;
  const toBlob = HTMLCanvasElement.prototype.toBlob;
  HTMLCanvasElement.prototype.toBlob = function (...args) {
    const row = this.getContext("2d").getImageData(0, 8, 128, 1).data;
    at = [0, 1, 2, 3, 4, 5, 6, 7].reduce((n, bit) => n + (row[4 * (16 * bit + 8)] > 127 ? 1 << bit : 0), 0);
    return toBlob.apply(this, args);
  };
  const { fetch } = window;
  window.fetch = async (url, init) => {
    const ms = /\/frames\?ms=([\d.]+)/.exec(String(url))?.[1];
    if (!ms) return fetch(url, init);
    const note = { ms: Number(ms), at, answer: null };
    window.sent.push(note);
    const res = await fetch(url, init);
    if (res.ok) note.answer = await res.clone().json();
    return res;
  };
});
const errors = [];
page.on("pageerror", (e) => errors.push(String(e)));
const asked = [];
page.on("request", (r) => asked.push(r.url()));
const shot = async (name) => SHOTS && (await page.screenshot({ path: path.join(SHOTS, name + ".png") }));
const clean = (where) => flawless(page, where);
const ask = asking(base);
const api = (way, to, body) => ask(to, way, body);

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

// A reading looks back eight seconds. A stand-in for a camera that stalls slows its
// runner, so each reading is held against how fast he ran in the pictures it was made
// of, and judged where they ran evenly. How fast is told over the whole of the
// reading's time and over its first and last three quarters; in an even film these
// differ little, and no picture is far from where it would be at an even pace.
const film = 180, windowMs = 8000;
const evenPace = 0.01, evenPictures = 1.5;
const line = (points) => {
  const mean = (k) => points.reduce((a, x) => a + x[k], 0) / points.length;
  const [mt, mn] = [mean(0), mean(1)];
  const slope = points.reduce((a, [t, n]) => a + (t - mt) * (n - mn), 0) / points.reduce((a, [t]) => a + (t - mt) ** 2, 0);
  return { hz: 1000 * slope, off: Math.max(...points.map(([t, n]) => Math.abs(n - mn - slope * (t - mt)))) };
};
const turns = []; // of each picture when it was taken, and its place in the film, counted on
const told = []; // the readings, each with how fast he ran
const take = ({ ms, at, answer }) => {
  const last = turns.at(-1)?.[1] ?? at;
  turns.push([ms, at + film * Math.max(0, Math.round((last + film / 3 - at) / film))]);
  if (!answer || ms < windowMs + 1000) return;
  const between = (from, to) => turns.filter(([t]) => t >= ms - windowMs * (1 - from) - 1e-6 && t <= ms - windowMs * (1 - to) + 1e-6);
  const spans = [[0, 1], [0, 0.75], [0.25, 1]].map((span) => between(...span));
  while (turns[0][0] < ms - windowMs) turns.shift();
  if (spans.some((points) => points.length < 4)) return;
  const lines = spans.map(line);
  const low = Math.min(...lines.map((l) => l.hz)), high = Math.max(...lines.map((l) => l.hz));
  told.push({ ...answer, ms, playedHz: lines[0].hz, low: (truth.rate * low) / 30, high: (truth.rate * high) / 30, even: high / low - 1 < evenPace && lines[0].off < evenPictures });
};
// Where the machine is busy the film may stall in each spell of eight seconds for a
// while, or too few pictures be read for a rate: then another spell is awaited.
const enough = 12; // pictures a second, at which everything is read
/** An even spell whose pictures were all taken after a moment; undefined where none comes. */
async function spellAfter(from) {
  let spell;
  for (const end = Date.now() + 150000; !spell && Date.now() < end; await page.waitForTimeout(250)) {
    // What was answered so far, or is not the last.
    const done = await page.evaluate(() => window.sent.splice(0, Math.max(0, window.sent.length - 1)));
    done.forEach(take);
    const good = told.filter((r) => r.even && r.ms - windowMs >= from);
    spell = good.find((r) => r.rate_hz >= enough) ?? (Date.now() > end - 75000 ? good.findLast((r) => r.per_min !== null) : undefined);
  }
  return spell;
}
const spell = await spellAfter(0);
const rated = !!spell;
if (rated) {
  const { per_min, error, low, high, playedHz, rate_hz } = spell;
  console.log(`seen ${per_min} ± ${error} steps a minute, true ${low.toFixed(2)} to ${high.toFixed(2)} (film at ${playedHz.toFixed(2)} pictures a second); ${rate_hz.toFixed(1)} a second read`);
  assert.ok(playedHz > 10 && playedHz < 31, `the film runs at ${playedHz}`);
  assert.ok(per_min !== null, `no rate at ${rate_hz} pictures a second: ${spell.why}`);
  assert.ok(error > 0 && error < 5, `an error of ${error}`);
  // Three standard errors where two are stated: a try in twenty may be outside of those.
  const off = Math.max(low - per_min, per_min - high, 0);
  assert.ok(off <= 1.5 * error + 0.05, `${per_min} ± ${error} against ${low} to ${high}`);
  // One reading in twenty may be off by more than it states, but not a second one, of
  // other pictures, as well.
  const astray = (r) => r.ahead.filter(({ side, m, error }) => m !== null && !(Math.abs(m - truth[side]) <= error));
  const say = (r) => r.ahead.map(({ side, m, error }) => (m === null ? `${side}: overstride withheld` : `${side}: overstride ${(100 * m).toFixed(1)} ± ${(100 * error).toFixed(1)} cm, true ${(100 * truth[side]).toFixed(1)}`)).join("; ");
  console.log(say(spell));
  if (astray(spell).length) {
    const second = await spellAfter(spell.ms);
    assert.ok(second && second.ahead.some((x) => x.m !== null) && !astray(second).length, second ? say(second) : "no second reading");
  }
  assert.ok(rate_hz < enough || spell.ahead.some((a) => a.m !== null), "no overstride at a good rate of pictures");
  // The page shows what was answered.
  await page.waitForFunction(() => {
    const d = document.querySelector('[data-testid="seen"]').dataset;
    return window.sent.slice(-4).some(({ answer: a }) => a && a.per_min !== null && String(a.per_min) === d.perMin && String(a.error) === d.error && a.ahead.every((x) => (document.querySelector(`[data-testid="ahead-${x.side}"]`)?.dataset.m ?? "null") === String(x.m)));
  });
  await seen.getByText(/quicker, to 166/).waitFor();
} else {
  // Nothing that was read can be judged: then it was for want of pictures, not of a
  // reader.
  console.log(`this machine is too busy for a rate to be judged: ${told.length} readings, at most ${Math.max(0, ...told.map((r) => r.rate_hz)).toFixed(1)} pictures a second, ${told.filter((r) => r.even).length} of an even film`);
  assert.ok(told.every((r) => !r.even || r.rate_hz < enough), "no rate of an even film");
}
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
