// Drives the stickers of the bench in a real Chromium against a real film: each is
// clicked once and followed in the background, what is doubtful is led to and
// corrected by hand, and the measures that rest on stickers come with measuring again.
// `go test ./internal/app -run TestStickersInBrowser -v` starts it; by hand, with that
// test's -stay and what it then prints.
import assert from "node:assert/strict";
import { join } from "node:path";
import { asking, launch, shots } from "./checks.mjs";
import * as looked from "./sound.mjs";
import { patient, placed } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8788/";
const { VISIT: visit, RESULT: result, CLIP: clip } = process.env;
const after = Number(process.env.AFTER);
/** Where each sticker is in truth: name, frame of the file, pixels of the film. */
const places = process.env.PLACES.split(";").filter(Boolean).map((p) => p.split(",")).map(([name, frame, x, y]) => ({ name, frame: Number(frame), x: Number(x), y: Number(y) }));
const truth = (name, frame) => places.find((p) => p.name === name && p.frame === frame);

const browser = await launch();

const api = asking(page0);
const kept = () => api(`api/clips/${clip}/stickers`);

async function open(viewport, id = result) {
  const context = patient(await browser.newContext({ viewport, locale: "en-GB" }));
  const page = await context.newPage();
  page.complaints = [];
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && page.complaints.push(m.text()));
  page.on("pageerror", (e) => page.complaints.push(e.message));
  await page.goto(`${page0}visits/${visit}/bench/${id}/0#frame=0`);
  await page.locator(".picture canvas[data-lens]").waitFor();
  await page.getByRole("button", { name: "Stickers", exact: true }).click();
  await page.getByRole("heading", { name: "Stickers" }).waitFor();
  return page;
}

async function shot(page, name) {
  if (shots) await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
}

/** Accessibility in light and in dark, and whether the page is too wide. */
const sound = (page, name) => looked.sound(page, name, { shots });

/** Opens the stickers at a frame of the measured part and waits until it is drawn. */
async function go(page, frame) {
  const at = new URL(page.url());
  await page.goto("about:blank");
  at.hash = `frame=${frame}`;
  await page.goto(at.href);
  await page.waitForFunction((f) => document.querySelector(".picture canvas")?.dataset.frame === String(f), frame);
  await page.getByRole("button", { name: "Stickers", exact: true }).click();
  await page.locator(".stickers .choose select").waitFor();
}

async function clickAt(page, x, y) {
  const canvas = page.locator(".picture canvas");
  await canvas.scrollIntoViewIfNeeded();
  await placed(page, ".picture canvas", "data-lens");
  const box = await canvas.boundingBox();
  const [scale, left, top] = (await canvas.getAttribute("data-lens")).split(",").map(Number);
  const ratio = (await canvas.evaluate((c) => c.width)) / box.width;
  await page.mouse.click(box.x + (left + x * scale) / ratio, box.y + (top + y * scale) / ratio);
}

/** A click is kept once the server has answered. */
const stored = (page) => page.waitForResponse((r) => r.request().method() === "PUT" && r.url().endsWith("/stickers") && r.ok());

async function followed(page) {
  await page.getByRole("button", { name: /^Follow \d+ points? through the film/ }).click();
  await page.getByText("Followed. Look at the paths.").waitFor();
}

let failed = 0;
async function step(name, body) {
  if (failed) return;
  try {
    await body();
    console.log(`ok    ${name}`);
  } catch (err) {
    failed++;
    console.log(`FAIL  ${name}\n${err.stack}`);
    await shot(page, `fail-${failed}`).catch(() => {});
  }
}

const first = (await api(`api/results/${result}`)).clips[0].first_frame;
const page = await open({ width: 1400, height: 1000 });
const names = [...new Set(places.map((p) => p.name))];

await step("each sticker is clicked once, and kept", async () => {
  await go(page, 40 - first);
  for (const name of names) {
    await page.locator(".stickers .choose select").selectOption(name);
    const p = truth(name, 40);
    await Promise.all([stored(page), clickAt(page, p.x + 1, p.y - 0.7)]);
    await page.getByText(/^Clicked .*, frame 40$/).waitFor();
  }
  const s = await kept();
  assert.deepEqual(s.points.map((p) => p.name), names);
  for (const p of s.points) assert.ok(Math.hypot(p.clicks[0].x - truth(p.name, 40).x, p.clicks[0].y - truth(p.name, 40).y) < 4, `${p.name} was clicked at ${JSON.stringify(p.clicks)}`);
  await shot(page, "clicked");
});

await step("a click where nothing is is told at once, and is not followed", async () => {
  await page.locator(".stickers .choose select").selectOption("c7");
  await Promise.all([stored(page), clickAt(page, 57, 665)]);
  const told = page.getByTestId("sticker").filter({ has: page.getByTestId("doubt") });
  await told.getByText(/There is nothing to follow at this click/).waitFor();
  await sound(page, "nothing-there");
  await page.getByRole("button", { name: /^Follow \d+ points? through the film/ }).click();
  await page.getByText(/there is nothing to follow at the click for c7 in frame 40/).waitFor();
  page.complaints.length = 0; // the browser reports the refusal, which is wanted here
  await Promise.all([stored(page), told.getByRole("button", { name: /^Remove/ }).click()]);
  await page.getByTestId("doubt").waitFor({ state: "detached" });
  assert.deepEqual((await kept()).points.map((p) => p.name), names);
});

await step("they are followed forwards and backwards; progress and the end are told", async () => {
  // What the page is told while it goes on, however short that is.
  await page.evaluate(() => {
    window.told = [];
    new MutationObserver(() => {
      const bar = document.querySelector(".stickers progress");
      if (bar) window.told.push(bar.value);
    }).observe(document.querySelector(".stickers"), { subtree: true, childList: true, attributes: true });
  });
  await followed(page);
  const told = await page.evaluate(() => window.told);
  assert.ok(told.length > 0, "no progress was shown");
  assert.deepEqual([...told].sort((a, b) => a - b), told, "the progress went back");
  const s = await kept();
  assert.ok(s.fresh);
  for (const f of s.followed) {
    const at = (frame) => truth(f.name, frame);
    assert.ok(f.x[0] !== null && f.x.at(-1) !== null, `${f.name} was not followed to both ends`);
    if (f.name !== "left_psis") for (const p of places.filter((q) => q.name === f.name)) assert.ok(Math.hypot(f.x[p.frame] - at(p.frame).x, f.y[p.frame] - at(p.frame).y) < 0.3, `${f.name}, frame ${p.frame}`);
  }
  const psis = s.followed.find((f) => f.name === "left_psis");
  assert.ok(psis.doubtful.length + psis.lost.length > 0, "the posterior spine's sticker leapt aside, and nothing is in doubt");
});

await step("the result of before is said to be old, and there is a strip for each sticker", async () => {
  await page.getByTestId("old").waitFor();
  assert.equal(await page.getByTestId("quality").count(), names.length);
  await sound(page, "followed");
});

await step("measured again, the measures that rest on stickers are there", async () => {
  const value = (r) => r.clips[0].measures.find((m) => m.name === "lumbar_curve" && m.value !== null);
  assert.equal(value(await api(`api/results/${result}`)), undefined, "the lumbar curve was there before");
  await page.getByRole("button", { name: "Measure again with the stickers" }).click();
  const link = page.getByRole("link", { name: "Open the new result" });
  await link.waitFor();
  assert.equal(await page.getByTestId("old").count(), 0);
  const id = (await link.getAttribute("href")).split("/").at(-2);
  const m = value(await api(`api/results/${id}`));
  assert.ok(m, "no lumbar curve is measured");
  assert.equal(m.origin, "sticker");
  await shot(page, "measured");
});

await step("one is led to what is doubtful, and corrects it by hand", async () => {
  const s = await kept();
  const psis = s.followed.find((f) => f.name === "left_psis");
  await page.getByTestId("look").click();
  const [a] = (psis.doubtful.length ? psis.doubtful : psis.lost).toSorted((p, q) => q[1] - q[0] - p[1] + p[0])[0];
  await page.waitForFunction((f) => document.querySelector(".picture canvas")?.dataset.frame === String(f), Math.max(0, a - first));
  assert.equal(await page.locator(".stickers .choose select").inputValue(), "left_psis");
  await shot(page, "doubtful");
  await go(page, after - first);
  const p = truth("left_psis", after);
  await page.locator(".stickers .choose select").selectOption("left_psis");
  // Where it was followed to is right, and a word says so; a click beside it moves it.
  await Promise.all([stored(page), page.getByRole("button", { name: "It is right in this frame" }).click()]);
  await page.getByText(new RegExp(`^Clicked .*, frame ${after}$`)).waitFor();
  await followed(page);
  const now = (await kept()).followed.find((f) => f.name === "left_psis");
  const sure = (f) => f.state.filter((x) => x === "followed" || x === "clicked").length;
  for (const f of (await kept()).followed) {
    const was = s.followed.find((x) => x.name === f.name);
    assert.ok(sure(f) >= sure(was), `${f.name} was sure in ${sure(was)} frames before the correction and is in ${sure(f)} now`);
    console.log(`      ${f.name}: sure in ${sure(was)} frames before, in ${sure(f)} after`);
  }
  assert.ok(Math.hypot(now.x[after] - p.x, now.y[after] - p.y) < 0.3, `after the correction it is at ${now.x[after]}, ${now.y[after]}`);
  assert.equal(now.state.at(-1), "followed", "after the correction the end of the film is still in doubt");
  // Where another disc stood in for it, nothing is said to be sure.
  assert.deepEqual(page.complaints, []);
  assert.ok(now.x.every((x, i) => i < 90 || i >= 110 || x === null || now.state[i] === "doubtful"), "the disc that stood in for it was followed without a word");
});

await step("on a phone the stickers are all there, and nothing is too wide", async () => {
  const phone = await open({ width: 390, height: 844 });
  await phone.getByTestId("sticker").first().waitFor();
  assert.equal(await phone.getByTestId("sticker").count(), names.length);
  await phone.getByTestId("quality").first().click();
  await sound(phone, "phone");
  assert.deepEqual(phone.complaints, []);
});

await browser.close();
process.exit(failed ? 1 : 0);
