// Drives the frame bench of the built page in a real Chromium against real films
// whose every frame shows its number as twelve blocks of colour along the top.
// `go test ./internal/app -run TestBenchInBrowser -v` starts it; by hand, with
// that test's -stay: PAGE=http://127.0.0.1:8788/ RESULT=… node e2e/bench.e2e.mjs
import assert from "node:assert/strict";
import { join } from "node:path";
import { asking, checks, shots } from "./checks.mjs";
import { faults } from "./sound.mjs";
import { pictures, placed, still, until } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8788/";
const result = process.env.RESULT;

// Reading the canvas back is this script's doing, not the page's.
const { check, end } = await checks({ pages: [page0], context: { viewport: { width: 1440, height: 960 } }, quiet: /willReadFrequently/ });

const shot = async (page, name, options = {}) => shots && page.screenshot({ path: join(shots, `${name}.png`), ...options });
const canvas = (page) => page.locator(".picture canvas");
const at = `api/results/${result}`;
const api = asking(page0);
/** Takes everything back, so that each check begins with the result as measured. */
async function clean() {
  for (let n = 0; n < 2; n++)
    for (let k = 0; k < 50; k++) {
      const e = await api(`${at}/clips/${n}/edits`);
      if (!e.undo) break;
      await fetch(`${page0}${at}/clips/${n}/undo`, { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" });
    }
}

await clean();
const session = await api(at);
const clip = session.clips[0];
const track = await api(`${at}/clips/0/track`);

async function open(page, n = 0, frame = 0, whole = true) {
  await page.goto(`${page0}results/${result}/bench/${n}#frame=${frame}`);
  await page.locator(".picture canvas[data-frame]").waitFor();
  if (whole) {
    // The whole picture, so that the number is in sight.
    await page.keyboard.press("0");
    await shows(page, frame);
  }
}

/** The number that is in the picture on the canvas, read from its pixels. */
const read = (page, selector = ".picture canvas") =>
  page.evaluate((selector) => {
    const c = document.querySelector(selector);
    const [scale, left, top] = c.dataset.lens.split(",").map(Number);
    const g = c.getContext("2d");
    let bits = 0;
    for (let bit = 0; bit < 12; bit++) {
      const [r, , b] = g.getImageData(Math.round(left + (32 + bit * 32) * scale), Math.round(top + 32 * scale), 1, 1).data;
      if (r > 170 && b < 130) bits |= 1 << bit;
      else if (!(b > 130 && r < 110)) return { bits: `block ${bit} is neither (${r}, ${b})`, frame: Number(c.dataset.frame) };
    }
    return { bits, frame: Number(c.dataset.frame) };
  }, selector);

/** Waits for a sample and holds the number in the picture against it. */
async function shows(page, sample) {
  await page.waitForFunction((f) => document.querySelector(".picture canvas")?.dataset.frame === String(f), sample);
  const got = await read(page);
  assert.equal(got.bits, clip.first_frame + sample, `the canvas shows picture ${got.bits} for sample ${sample}`);
}

/** Where a landmark is on the screen, in CSS pixels. */
async function spotOf(page, landmark, sample, from = track) {
  const i = from.landmarks.indexOf(landmark);
  return page.evaluate(
    ([x, y]) => {
      const c = document.querySelector(".picture canvas");
      const [scale, left, top] = c.dataset.lens.split(",").map(Number);
      const box = c.getBoundingClientRect();
      const ratio = c.width / box.width;
      return { x: box.left + (left + x * scale) / ratio, y: box.top + (top + y * scale) / ratio, scale: scale / ratio };
    },
    [from.x[i][sample], from.y[i][sample]],
  );
}

/** The picture has its place on the screen. */
const steady = (page) => placed(page, ".picture canvas", "data-lens");

const turn = (page) => page.evaluate(() => Number(document.querySelector(".picture canvas").dataset.turn));
const answered = (page, before) => page.waitForFunction((n) => Number(document.querySelector(".picture canvas").dataset.turn) > n, before);
const measures = async (n = 0) => JSON.stringify((await api(at)).clips[n].measures);
// The middle of a left stance in the middle of the clip: where the knee matters.
const stance = clip.contacts.filter((c) => c.side === "left")[2];
const mid = track.time_s.findIndex((s) => s >= (stance.initial_contact_s + stance.toe_off_s) / 2);

await check("each step and jump shows exactly its frame", {}, async (page) => {
  await open(page);
  let frame = 0;
  for (const [key, by] of [["ArrowRight", 1], [".", 1], [".", 1], ["Shift+ArrowRight", 10], ["ArrowLeft", -1], [",", -1], ["Shift+ArrowRight", 10]]) {
    await page.keyboard.press(key);
    frame += by;
    await shows(page, frame);
  }
  await page.keyboard.press("End");
  await shows(page, track.time_s.length - 1);
  await page.keyboard.press("Home");
  await shows(page, 0);
  // Held down, no frame is shown with another's number.
  for (let k = 0; k < 40; k++) await page.keyboard.press(".");
  await shows(page, 40);
});

await check("playing shows frames in order, each with its own number", {}, async (page) => {
  await open(page, 0, 20);
  await page.keyboard.press("1");
  await page.keyboard.press("Space");
  const seen = [];
  while (seen.length < 10 || seen.at(-1) <= seen[0] + 5) {
    // Each time another frame than before.
    await page.waitForFunction((last) => document.querySelector(".picture canvas").dataset.frame !== last, String(seen.at(-1)));
    const got = await read(page);
    assert.equal(got.bits, clip.first_frame + got.frame, `the canvas shows picture ${got.bits} at sample ${got.frame}`);
    seen.push(got.frame);
    if (got.frame < track.time_s.length - 1) continue;
    // Played to its end before enough was seen, on a busy machine: once more.
    assert.ok(seen.every((f, i) => !i || f >= seen[i - 1]), "it went back");
    seen.length = 0;
    await open(page, 0, 20);
    await page.keyboard.press("Space");
  }
  await page.keyboard.press("Space");
  assert.ok(seen.at(-1) > seen[0] + 5, `it went from ${seen[0]} to ${seen.at(-1)}`);
  assert.ok(seen.every((f, i) => !i || f >= seen[i - 1]), "it went back");
});

await check("the next frame is ready before it is asked for", {}, async (page) => {
  // Which pictures are decoded and at hand.
  await page.addInitScript(() => {
    window.have = [];
    const of = new WeakMap();
    const { blob } = Response.prototype;
    Response.prototype.blob = async function () {
      const got = await blob.call(this);
      of.set(got, this.url);
      return got;
    };
    const { createImageBitmap } = window;
    window.createImageBitmap = async (from, ...rest) => {
      const picture = await createImageBitmap(from, ...rest);
      setTimeout(() => window.have.push(of.get(from)));
      return picture;
    };
  });
  await open(page, 0, 30);
  const next = [1, 2, 3, 4, 5, 6, 7, 8].map((k) => new URL(`${at}/clips/0/frames/${30 + k}`, page0).href);
  await page.waitForFunction((urls) => urls.every((u) => window.have.some((h) => h.split("?")[0] === u)), next);
  // A step to a picture at hand is drawn before anything else can happen in the page.
  const drawn = await page.evaluate(async (steps) => {
    const c = document.querySelector(".picture canvas");
    const out = [];
    for (let k = 0; k < steps; k++) {
      dispatchEvent(new KeyboardEvent("keydown", { key: ".", bubbles: true }));
      for (let turn = 0; turn < 20; turn++) await Promise.resolve();
      out.push(Number(c.dataset.frame));
      await new Promise((go) => requestAnimationFrame(go));
    }
    return out;
  }, next.length);
  assert.deepEqual(drawn, [31, 32, 33, 34, 35, 36, 37, 38], "a step waits for its picture");
});

await check("a knee drawn elsewhere changes measures, undo returns them", {}, async (page) => {
  await clean();
  const before = await measures();
  await open(page, 0, mid);
  await page.keyboard.press("f");
  await steady(page);
  await shot(page, "bench-desktop");
  const spot = await spotOf(page, "left_knee", mid);
  const n = await turn(page);
  await page.mouse.move(spot.x, spot.y);
  await page.mouse.down();
  await page.mouse.move(spot.x + 10, spot.y + 2, { steps: 4 });
  await page.mouse.move(spot.x + 24, spot.y + 2, { steps: 4 });
  // The measures follow the hand, and nothing is kept yet.
  const list = page.getByTestId("changed");
  await list.getByText(/knee flexion/i).first().waitFor();
  await shot(page, "bench-drag");
  assert.equal(await turn(page), n);
  assert.equal(await measures(), before);
  await page.evaluate(() => {
    const c = document.querySelector(".picture canvas");
    const before = c.dataset.turn;
    c.addEventListener("pointerup", () => {
      const began = performance.now();
      const look = () => (c.dataset.turn !== before ? requestAnimationFrame(() => (window.took = performance.now() - began)) : setTimeout(look, 1));
      look();
    });
  });
  await page.mouse.up();
  await answered(page, n);
  await page.waitForFunction(() => window.took > 0);
  console.log(`      from letting go to the new measures on the screen: ${Math.round(await page.evaluate(() => window.took))} ms`);
  await list.getByText(/knee flexion/i).first().waitFor();
  await still(page);
  await shot(page, "bench-changed");
  assert.notEqual(await measures(), before, "the result's measures are as before");
  const kept = await api(`${at}/clips/0/edits`);
  assert.equal(kept.landmarks.length, 1);
  const m = kept.landmarks[0];
  const i = track.landmarks.indexOf("left_knee");
  assert.equal(m.landmark, "left_knee");
  assert.ok(Math.abs(m.x - (track.x[i][mid] + 24 / spot.scale)) < 0.6, `it was put to ${m.x}, drawn by ${24 / spot.scale} px from ${track.x[i][mid]}`);
  assert.ok(kept.undo.includes("left knee"), kept.undo);
  await page.keyboard.press("z");
  await page.getByText(/Taken back/).waitFor();
  assert.equal(await measures(), before, "undo does not give the same measures back");
  await page.keyboard.press("Shift+Z");
  await page.getByText(/Done again/).waitFor();
  assert.notEqual(await measures(), before);
  // Whoever comes to it later is told the same of what was corrected.
  const together = page.locator("summary", { hasText: "All corrections together" });
  const told = await together.innerText();
  assert.match(told, /[1-9]/);
  await page.reload();
  await together.filter({ hasText: /\d/ }).waitFor();
  assert.equal(await together.innerText(), told, "what was corrected before is told otherwise");
  await page.keyboard.press("Control+z");
  await page.getByText(/Taken back/).waitFor();
  assert.equal(await measures(), before);
});

await check("arrows move the point in hand by a pixel, a tenth, ten", {}, async (page) => {
  await clean();
  await open(page, 0, mid);
  const select = page.getByLabel("Point in hand");
  await select.selectOption("left_ankle");
  await select.blur();
  const n = await turn(page);
  for (const key of ["ArrowRight", "ArrowRight", "Shift+ArrowRight", "Control+ArrowDown", "Shift+ArrowUp"]) await page.keyboard.press(key);
  // The keys are gathered, and kept once they rest.
  const i = track.landmarks.indexOf("left_ankle");
  const kept = await until("the keys are kept", async () => {
    const { landmarks } = await api(`${at}/clips/0/edits`);
    return landmarks.length && Math.abs(landmarks[0].y - track.y[i][mid] - 9.9) < 0.02 && landmarks;
  });
  await answered(page, n);
  assert.equal(kept.length, 1);
  assert.ok(Math.abs(kept[0].x - track.x[i][mid] - 2.1) < 0.02, `x went from ${track.x[i][mid]} to ${kept[0].x}`);
  await page.keyboard.press("Backspace");
  await until("the point is back", async () => (await api(`${at}/clips/0/edits`)).landmarks.length === 0);
  await page.keyboard.press("Escape");
  await page.keyboard.press("ArrowRight");
  await shows(page, mid + 1);
});

await check("the end of a contact is nudged, drawn and deleted", {}, async (page) => {
  await clean();
  const before = await measures();
  await open(page, 0, mid);
  const edge = page.getByRole("slider", { name: new RegExp(`left foot, initial contact at ${stance.initial_contact_s.toFixed(3)}`) });
  await edge.focus();
  const n = await turn(page);
  // Two keys in one go, which are gathered.
  await page.evaluate(async () => {
    for (let k = 0; k < 2; k++) {
      document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft", bubbles: true, cancelable: true }));
      for (let turn = 0; turn < 20; turn++) await Promise.resolve();
    }
  });
  let e = await until("both keys are kept", async () => {
    const now = await api(`${at}/clips/0/edits`);
    return now.placed.length && now.placed[0].initial_contact_s < stance.initial_contact_s - 0.015 && now;
  });
  await answered(page, n);
  assert.equal(e.placed.length, 1);
  assert.equal((await api(at)).clips[0].contacts.length, clip.contacts.length);
  await still(page);
  await shot(page, "bench-contact");
  // Taken back and done again with the focus still on the end.
  await page.keyboard.press("z");
  await answered(page, n + 1);
  assert.equal((await api(`${at}/clips/0/edits`)).placed.length, 0);
  await page.keyboard.press("Shift+Z");
  await answered(page, n + 2);
  assert.equal((await api(`${at}/clips/0/edits`)).placed.length, 1);
  // Drawn with the mouse by four frames or so.
  const toe = page.getByRole("slider", { name: new RegExp(`left foot, toe-off at ${stance.toe_off_s.toFixed(3)}`) });
  const box = await toe.boundingBox();
  const m = await turn(page);
  await page.mouse.move(box.x + 12, box.y + 16);
  await page.mouse.down();
  await page.mouse.move(box.x + 52, box.y + 16, { steps: 6 });
  // What it would change is told to be no more than that until it is let go.
  await page.getByRole("heading", { name: "Not saved yet, would change" }).waitFor();
  await page.mouse.up();
  await answered(page, m);
  await page.getByRole("heading", { name: "Just changed" }).waitFor();
  e = await api(`${at}/clips/0/edits`);
  assert.equal(e.placed.length, 1, "moving both ends made two contacts");
  assert.ok(e.placed[0].toe_off_s > stance.toe_off_s + 0.01, `toe-off is at ${e.placed[0].toe_off_s}`);
  let k = await turn(page);
  // A second Delete finds no other contact under it.
  await page.keyboard.press("Delete");
  assert.ok(await page.evaluate(() => !document.activeElement.closest("[data-own-keys]")), "the focus is on another contact");
  await answered(page, k++);
  await page.keyboard.press("Delete");
  await page.keyboard.press("z");
  await answered(page, k++);
  assert.equal((await api(at)).clips[0].contacts.length, clip.contacts.length, "undo did not bring back the one that was deleted");
  await page.getByRole("slider", { name: /left foot, toe-off/ }).nth(0).focus();
  await page.getByRole("button", { name: "Delete this contact" }).click();
  await answered(page, k);
  assert.equal((await api(at)).clips[0].contacts.length, clip.contacts.length - 1);
  const a = await turn(page);
  await page.keyboard.press("Escape");
  await page.getByRole("button", { name: "Add a left contact here" }).click();
  await answered(page, a);
  assert.equal((await api(at)).clips[0].contacts.length, clip.contacts.length);
  await clean();
  assert.equal(await measures(), before);
});

await check("left and right are exchanged over a range, and twice is nothing", {}, async (page) => {
  await clean();
  const before = await measures();
  await open(page, 0, 60);
  for (let round = 0; round < 2; round++) {
    await page.keyboard.press("Home");
    for (let k = 0; k < 6; k++) await page.keyboard.press("Shift+ArrowRight");
    await shows(page, 60);
    const n = await turn(page);
    await page.keyboard.press("x");
    await page.keyboard.press("Shift+ArrowRight");
    await shows(page, 70);
    if (!round) {
      // What it would change is shown before it is kept, and put down with it.
      await page.getByTestId("changed").locator("li").first().waitFor();
      await shot(page, "bench-exchange");
      assert.equal(await measures(), before);
      await page.getByRole("button", { name: "Leave it" }).click();
      await page.getByTestId("changed").waitFor({ state: "detached" });
      await page.keyboard.press("Home");
      for (let k = 0; k < 6; k++) await page.keyboard.press("Shift+ArrowRight");
      await shows(page, 60);
      await page.keyboard.press("x");
      await page.keyboard.press("Shift+ArrowRight");
      await shows(page, 70);
    }
    await page.keyboard.press("x");
    await answered(page, n);
    const e = await api(`${at}/clips/0/edits`);
    assert.deepEqual(e.swaps, round ? [] : [{ from: clip.first_frame + 60, to: clip.first_frame + 70, part: "legs" }]);
  }
  assert.equal(await measures(), before);
  await clean();
});

await check("what an answer leaves out of the track is read when the hand rests", {}, async (page) => {
  await clean();
  await open(page, 0, 60);
  await page.route(/\/clips\/0\/edits$/, async (route) => {
    if (route.request().method() !== "POST") return route.fallback();
    const answer = await route.fetch();
    const body = await answer.json();
    if (body.track) body.track = { landmarks: [], series: [], rest: true };
    await route.fulfill({ response: answer, json: body });
  });
  const n = await turn(page);
  await page.keyboard.press("x");
  await page.keyboard.press("Shift+ArrowRight");
  await shows(page, 70);
  const anew = page.waitForResponse((r) => r.url().endsWith("/clips/0/track"));
  await page.keyboard.press("x");
  await answered(page, n);
  await (await anew).finished();
  await page.unroute(/\/clips\/0\/edits$/);
  await still(page);
  const { x } = await api(`${at}/clips/0/track`);
  const i = track.landmarks.indexOf("left_knee");
  assert.ok(Math.abs(x[i][65] - track.x[i][65]) > 3, `the knee is where it was, ${x[i][65]}`);
  await page.keyboard.press("ArrowLeft");
  await shows(page, 69);
  await page.getByLabel("Point in hand").selectOption("left_knee");
  await page.keyboard.press("ArrowRight");
  await answered(page, n + 1);
  const [kept] = (await api(`${at}/clips/0/edits`)).landmarks;
  assert.ok(Math.abs(kept.x - x[i][69] - 1) < 0.02, `the knee went from ${x[i][69]} to ${kept.x}, and was at ${track.x[i][69]} before`);
  await clean();
});

await check("the list of frames worth checking leads through them", {}, async (page) => {
  await clean();
  await open(page, 0, 0);
  const guide = page.getByTestId("guide");
  await guide.getByText(/worth checking$|No frame is likely/).first().waitFor();
  const list = await api(`${at}/clips/0/check`);
  assert.ok(list.length > 1, `${list.length} frames are worth checking`);
  await page.keyboard.press("n");
  await shows(page, list[0].frame);
  await guide.getByText(`1 of ${list.length}`).waitFor();
  if (list[0].landmark) assert.equal(await page.getByLabel("Point in hand").inputValue(), list[0].landmark);
  await shot(page, "bench-guide");
  await page.keyboard.press("y");
  await shows(page, list[1].frame);
  // One frame of a place corrected: what is left of it is not told to be on show, and the
  // next is what stands now where the place stood.
  const i = list.findIndex((d) => d.landmark && d.frame === d.from && d.to > d.from);
  assert.ok(i >= 0, "no place has frames beyond the one that is shown");
  await guide.getByRole("button", { name: "List" }).click();
  await guide.locator("ol button").nth(i).click();
  await shows(page, list[i].frame);
  while ((await page.locator(".blend output").innerText()) !== "0") await page.keyboard.press("Shift+B");
  const asked = page.waitForResponse((r) => r.url().endsWith("/check"));
  await page.keyboard.press("Control+ArrowUp");
  const now = await (await asked).json();
  const rest = now.findIndex((d) => d.landmark === list[i].landmark && d.from > list[i].frame && d.from <= list[i].to);
  assert.ok(rest >= 0, "nothing is left of the place");
  await guide.getByRole("button", { name: "Go on" }).waitFor();
  assert.equal(await guide.locator(".count").count(), 0, "a place is told to be on show that is not");
  // Where the column is below the picture, the way on stays at the picture.
  await page.setViewportSize({ width: 800, height: 960 });
  await page.locator(".stage").getByRole("button", { name: "Go on" }).waitFor();
  await page.setViewportSize({ width: 1440, height: 960 });
  const looked = list[0].frame;
  await page.keyboard.press("n");
  const next = now.findIndex((d, k) => k >= i && d.frame !== looked);
  await shows(page, now[next].frame);
  await clean();
});

const toldTwice = /409/; // the refusal itself
await check("whoever comes back after a while finds the bench ready", {}, async (page) => {
  await open(page);
  await page.getByTestId("guide").getByText(/worth checking$|No frame is likely/).first().waitFor();
  let asked = 0;
  page.on("request", (r) => (asked += r.url().endsWith("/check") ? 1 : 0));
  await page.mouse.move(400, 300);
  await page.mouse.move(420, 300);
  await pictures(page, 3); // whatever was to be asked is asked
  assert.equal(asked, 0, "asked though nobody was away");
  await page.clock.setFixedTime(Date.now() + 10 * 60_000);
  const ready = page.waitForResponse((r) => r.url().endsWith("/check"));
  await page.mouse.move(440, 300);
  assert.ok((await ready).ok());
  await page.mouse.move(460, 300);
  await pictures(page, 3);
  assert.equal(asked, 1);
});

await check("two screens: the second is told and nothing is lost", {}, async (page) => {
  await clean();
  await open(page, 0, mid);
  const kept = await api(`${at}/clips/0/edits`);
  const elsewhere = { version: kept.version, what: "Moved the right knee, elsewhere", edits: { ...kept, landmarks: [{ landmark: "right_knee", frame: clip.first_frame + 5, x: 900, y: 700, blend: 0 }] } };
  const res = await fetch(`${page0}${at}/clips/0/edits`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(elsewhere) });
  assert.ok(res.ok, await res.text());
  await page.keyboard.press("p");
  await page.keyboard.press("ArrowRight");
  await page.getByRole("alert").getByText(/corrected on another screen/).waitFor();
  const now = await api(`${at}/clips/0/edits`);
  assert.deepEqual(now.landmarks.map((m) => m.landmark), ["right_knee"]);
  await page.keyboard.press("ArrowRight");
  await page.waitForFunction(async (u) => (await (await fetch(u)).json()).landmarks.length === 2, `${page0}${at}/clips/0/edits`);
  await clean();
}, toldTwice);

for (const scheme of ["light", "dark"])
  await check(`nothing stands in the way of anyone, ${scheme}`, { colorScheme: scheme }, async (page) => {
    await clean();
    await open(page, 0, mid);
    await page.keyboard.press("p");
    await page.keyboard.press("ArrowRight");
    await page.getByTestId("changes").getByText(/Moved/).first().waitFor();
    await still(page);
    assert.deepEqual(await faults(page, scheme), []);
    await shot(page, `bench-${scheme}`, { fullPage: true });
    await page.keyboard.press("?");
    await page.getByRole("dialog").waitFor();
    assert.deepEqual(await faults(page, scheme), []);
    if (scheme === "light") await shot(page, "bench-keys");
    await clean();
  });

await check("the other film, stepped together", {}, async (page) => {
  await open(page, 0, 0);
  const rear = session.clips[1];
  const rearTrack = await api(`${at}/clips/1/track`);
  const lands = (c) => c.contacts.filter((k) => k.side === "left").map((k) => k.initial_contact_s);
  const nearest = (clock, t) => clock.reduce((best, v, i) => (Math.abs(v - t) < Math.abs(clock[best] - t) ? i : best), 0);
  // As the left foot lands in the one film, it does in the other, to a frame.
  const landings = lands(rear).map((t) => nearest(rearTrack.time_s, t));
  let last = -1;
  for (const s of lands(clip).slice(1, 5)) {
    const f = nearest(track.time_s, s);
    await page.goto(page.url().replace(/#.*/, `#frame=${f}`));
    await shows(page, f);
    const other = await page.waitForFunction(
      ([landings, f, last]) => {
        const at = Number(document.querySelector(".companion canvas")?.dataset.frame ?? NaN);
        return document.querySelector(".picture canvas").dataset.frame === String(f) && at !== last && landings.some((l) => Math.abs(l - at) <= 1) && { at };
      },
      [landings, f, last],
    );
    last = (await other.jsonValue()).at;
  }
  // Where it cannot be had, that is told in its place.
  await page.route("**/clips/1/track", (route) => route.fulfill({ status: 404, contentType: "application/json", body: '{"error":"Gone."}' }));
  await page.reload();
  await page.locator(".companion .trouble", { hasText: "No picture: Gone." }).waitFor();
  await page.unroute("**/clips/1/track");
  await open(page, 1, 40, false);
  await shot(page, "bench-rear");
  await page.keyboard.press("v");
  await page.waitForURL(/bench\/0/);
}, /404 \(Not Found\)/);

for (const [name, size] of [["phone", { width: 390, height: 844 }], ["tablet", { width: 820, height: 1180 }]])
  await check(`by finger, ${name}`, { viewport: size, hasTouch: true, isMobile: true, deviceScaleFactor: 2 }, async (page) => {
    await clean();
    await open(page, 0, mid);
    await page.getByRole("button", { name: "Runner" }).click();
    await steady(page);
    await shot(page, `bench-${name}`);
    const spot = await spotOf(page, "left_knee", mid);
    const n = await turn(page);
    const cdp = await page.context().newCDPSession(page);
    const touch = (type, x, y) => cdp.send("Input.dispatchTouchEvent", { type, touchPoints: type === "touchEnd" ? [] : [{ x, y }] });
    await touch("touchStart", spot.x, spot.y);
    for (let k = 1; k <= 8; k++) await touch("touchMove", spot.x + 3 * k, spot.y);
    await shot(page, `bench-${name}-drag`);
    await touch("touchEnd");
    await answered(page, n);
    const kept = (await api(`${at}/clips/0/edits`)).landmarks;
    assert.equal(kept.length, 1);
    assert.equal(kept[0].landmark, "left_knee");
    // What it changed is in sight together with the picture.
    const [said, seen] = [await page.locator(".newest .change").boundingBox(), await page.locator(".picture").boundingBox()];
    assert.ok(said.y >= seen.y + seen.height - 1 && said.y + said.height <= size.height, `it stands at ${said.y} to ${said.y + said.height} of ${size.height}`);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `the page is ${wide} px wider than the screen`);
    assert.deepEqual(await faults(page), []);
    await still(page);
    await shot(page, `bench-${name}-whole`, { fullPage: true });
    const m = await turn(page);
    const listed = page.waitForResponse((r) => r.url().endsWith("/check"));
    await page.getByRole("button", { name: "Back as found" }).click();
    await answered(page, m);
    await listed;
    assert.equal((await api(`${at}/clips/0/edits`)).landmarks.length, 0, "the point is back where it was found");
    // What keys do is done without them: the point in hand by a pixel and a tenth, a contact's end by a frame.
    const nudge = page.getByRole("group", { name: "Move the chosen point" });
    let before = await turn(page);
    await nudge.getByRole("button", { name: "Right" }).tap();
    await answered(page, before);
    const knee = track.landmarks.indexOf("left_knee");
    const [once] = (await api(`${at}/clips/0/edits`)).landmarks;
    // The track is told to a tenth of a pixel.
    assert.ok(Math.abs(once.x - track.x[knee][mid] - 1) <= 0.051 && Math.abs(once.y - track.y[knee][mid]) <= 0.051, `moved to ${once.x}, ${once.y} from ${track.x[knee][mid]}, ${track.y[knee][mid]}`);
    await nudge.getByRole("button", { name: "a tenth" }).tap();
    before = await turn(page);
    await nudge.getByRole("button", { name: "Up" }).tap();
    await answered(page, before);
    const moved = (await api(`${at}/clips/0/edits`)).landmarks;
    assert.deepEqual(moved.map((l) => l.landmark), ["left_knee"]);
    assert.ok(Math.abs(moved[0].x - once.x) < 1e-6 && Math.abs(moved[0].y - once.y + 0.1) < 1e-6, `then to ${moved[0].x}, ${moved[0].y} from ${once.x}, ${once.y}`);
    const edge = page.getByRole("slider", { name: new RegExp(`left foot, initial contact at ${stance.initial_contact_s.toFixed(3)}`) });
    await edge.scrollIntoViewIfNeeded();
    const reach = await edge.boundingBox();
    assert.ok(reach.width >= 40 && reach.height >= 30, `an end is ${reach.width} by ${reach.height} px`);
    before = await turn(page);
    await edge.tap();
    await page.locator(".strip .acts").getByText(`left contact, ${stance.initial_contact_s.toFixed(3)} s`).waitFor();
    assert.equal((await api(`${at}/clips/0/edits`)).placed.length, 0, "a tap moved the contact");
    await page.getByRole("button", { name: "One frame later" }).tap();
    await answered(page, before);
    const { placed } = await api(`${at}/clips/0/edits`);
    assert.equal(placed.length, 1);
    const frames = (placed[0].initial_contact_s - stance.initial_contact_s) / (track.time_s[1] - track.time_s[0]);
    assert.ok(frames > 0 && frames < 2, `it moved by ${frames} frames`);
    assert.deepEqual(await faults(page), []);
    await shot(page, `bench-${name}-keyless`);
    // What can be pressed at the bench is large enough: 24 px by WCAG 2.2, and 44 for what is used standing.
    const small = await page.locator(".stage button, .stage select, .strip .small").evaluateAll((all) => all.filter((e) => e.checkVisibility()).map((e) => [e.textContent.trim() || e.getAttribute("aria-label"), e.getBoundingClientRect()]).filter(([, r]) => Math.min(r.width, r.height) < 43.5).map(([n, r]) => `${n}: ${r.width} by ${r.height}`));
    assert.deepEqual(small, []);
    await page.evaluate(() => scrollTo(0, 0));
    // Whoever is led through the frames sees the picture.
    await page.getByRole("button", { name: "Go to the first" }).click();
    await page.locator(".near").getByRole("button", { name: "It is right" }).waitFor();
    await page.waitForFunction(() => document.querySelector(".picture").getBoundingClientRect().top >= 0);
    await clean();
  });

await check("in German", { locale: "de-DE" }, async (page) => {
  await open(page, 0, mid);
  await page.getByText("Bildtisch").first().waitFor();
  await page.getByRole("button", { name: "Zurücknehmen" }).waitFor();
  // However long a name is, the head is one row and the page as wide as the window.
  await page.locator("header h1").evaluate((e) => (e.textContent = "Maximiliane Theodora von Hohenstein und Wallersberg"));
  for (const width of [900, 1010, 1280]) {
    await page.setViewportSize({ width, height: 960 });
    const [row, name, wide] = await page.evaluate(() => [document.querySelector("header"), document.querySelector("header h1"), document.documentElement].map((e) => [e.offsetHeight, e.scrollWidth - e.clientWidth]));
    assert.ok(row[0] <= 60, `the head is ${row[0]} px high at ${width} px`);
    assert.ok(name[1] > 0, `the name is not cut at ${width} px`);
    assert.ok(wide[1] <= 0, `the bench is ${wide[1]} px too wide at ${width} px`);
  }
  await shot(page, "bench-german");
});

await end();
