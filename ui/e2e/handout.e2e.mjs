// Step rate and homework in the studio's page: a count becomes a baseline, a target
// and a ramp; the click is measured, taps and footfalls are read; the homework goes
// to a phone without a network and its log comes back. PAGE is the program's
// address, CHROMIUM the browser, OUT a folder, SHOTS one for pictures.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { asking, launch } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { patient } from "./waiting.mjs";

const { PAGE, OUT, SHOTS } = process.env;
const base = PAGE.replace(/\/$/, "");
if (SHOTS) mkdirSync(SHOTS, { recursive: true });

const heardRate = 168;

const browser = await launch("--autoplay-policy=no-user-gesture-required", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream");
const context = patient(await browser.newContext({ viewport: { width: 1180, height: 900 }, acceptDownloads: true, locale: "en-GB", permissions: ["microphone"] }));
const page = await context.newPage();
// What the microphone hears: footfalls at a rate on a humming belt. They come by the
// clock of the audio that reads them, so that a busy machine leaves none out.
await page.addInitScript((heardRate) => {
  AudioContext.prototype.createMediaStreamSource = function (stream) {
    if (!stream.getAudioTracks().some((track) => track.readyState === "live")) throw new Error("the microphone is not open");
    const rate = this.sampleRate;
    const seconds = 20; // 56 steps, so that it repeats in step
    let seed = 5;
    const random = () => (seed = (seed * 1103515245 + 12345) % 2147483648) / 1073741824 - 1;
    const x = new Float32Array(rate * seconds);
    for (let i = 0; i < x.length; i++) x[i] = 0.05 * Math.sin((2 * Math.PI * 100 * i) / rate) + 0.01 * random();
    const step = 60 / heardRate;
    for (let k = 0; k * step < seconds; k++) {
      // As legs are, a few milliseconds early or late; what is quite even is taken for a machine.
      const at = Math.round((k * step + 0.01 * (1 + random())) * rate);
      for (let i = 0; i < 0.06 * rate && at + i < x.length; i++) x[at + i] += (k % 2 ? 0.25 : 0.5) * random() * Math.exp(-i / (0.015 * rate));
    }
    const buffer = this.createBuffer(1, x.length, rate);
    buffer.copyToChannel(x, 0);
    const source = new AudioBufferSourceNode(this, { buffer, loop: true });
    source.start();
    return source;
  };
}, heardRate);
const errors = [];
page.on("pageerror", (e) => errors.push(String(e)));
const shot = async (name, on = page) => SHOTS && (await on.screenshot({ path: path.join(SHOTS, name + ".png"), fullPage: true }));
const clean = (where, on = page) => flawless(on, where);
const ask = asking(base);
const api = (way, to, body) => ask(to, way, body);

const runner = await api("POST", "/api/runners", { name: "Ada (invented)" });
const iso = (d) => d.toISOString().slice(0, 10);
const past = iso(new Date(Date.now() - 14 * 864e5));
const { visits: _, ...plain } = runner;
await api("PUT", `/api/runners/${runner.id}`, { ...plain, visits: [], height_m: 1.75, consent: { filming: past, records: past, research: null } });
const visit = await api("POST", `/api/runners/${runner.id}/visits`, { date: past });

// A count becomes a ramp.
await page.goto(`${base}/visits/${visit.id}/plan`);
const part = page.getByTestId("steprate");
await part.getByText("From a count").click();
await part.getByLabel("Contacts counted").fill("80");
await part.getByLabel("Contacts counted").blur();
await part.getByLabel("Seconds", { exact: true }).fill("30");
await part.getByLabel("Seconds", { exact: true }).blur();
await part.getByLabel("Easy pace").fill("10 km/h");
await part.getByLabel("Easy pace").blur();
await part.getByText("160.0 ±").waitFor();
await part.getByText(/no accepted finding of a foot that lands far ahead/).waitFor(); // none is asked for
await part.getByLabel("Yes", { exact: true }).check({ force: true });
await part.getByText("176 is proposed").waitFor();
await part.getByLabel("Target, steps a minute").fill("170");
await part.getByLabel("Target, steps a minute").blur();
await part.getByLabel("Week 10, steps/min").waitFor();
assert.equal(await part.getByLabel("Week 10, steps/min").inputValue(), "170");
await part.getByLabel("Another pace: Name").fill("tempo");
await part.getByLabel("Speed or pace").fill("15 km/h");
await part.getByRole("button", { name: "Add" }).click();
await part.getByText(/15\.0\s*km\/h · 4:00/).waitFor();
await part.getByLabel("Week 3, steps/min").fill("162");
await part.getByLabel("Week 3, steps/min").blur();
await part.getByRole("button", { name: "As worked out" }).waitFor();

// The click, measured.
await part.getByRole("button", { name: "Start the click" }).click();
const jitter = part.getByTestId("jitter");
await page.waitForFunction(() => Number(document.querySelector('[data-testid="jitter"]')?.getAttribute("data-clicks")) >= 10);
const worst = Number(await jitter.getAttribute("data-worst"));
console.log(`click in the studio: worst ${worst.toFixed(4)} ms off its place`);
assert.ok(worst < 0.1, `a click is ${worst} ms off`);
await part.getByRole("button", { name: "Stop the click" }).click();

// Taps, each with the time at which it was made.
await page.evaluate(() => {
  const b = [...document.querySelectorAll("button")].find((x) => x.textContent.includes("Tap each step"));
  const began = performance.now();
  for (let k = 0; k < 9; k++) {
    const tap = new PointerEvent("pointerdown", { bubbles: true });
    Object.defineProperty(tap, "timeStamp", { value: began + 375 * k });
    b.dispatchEvent(tap);
  }
});
const tapped = Number.parseFloat(await part.getByTestId("tapped").textContent());
assert.ok(Math.abs(tapped - 160) < 0.1, `taps every 375 ms read as ${tapped}`);

// Footfalls from the microphone.
await part.getByRole("button", { name: "Listen to the footfalls" }).click();
const { heard, heardError } = await (
  await page.waitForFunction(() => {
    const [heard, heardError] = ["data-per-min", "data-error"].map((a) => Number(document.querySelector('[data-testid="heard"]')?.getAttribute(a)));
    return heard > 0 && heardError > 0 && heardError < 5 && { heard, heardError };
  })
).jsonValue();
console.log(`footfalls at ${heardRate} a minute: heard ${heard.toFixed(2)} ± ${heardError.toFixed(2)}`);
assert.ok(Math.abs(heard - heardRate) <= 1.5 * heardError + 0.2, `heard ${heard} ± ${heardError}`);
await clean("Plan with step rate");
await shot("steprate");
await part.getByRole("button", { name: "Large" }).click();
await shot("large");
await part.getByRole("button", { name: "Small" }).click();
await part.getByRole("button", { name: "Stop listening" }).click();

// Homework.
await page.goto(`${base}/visits/${visit.id}/handout`);
const [file] = await Promise.all([page.waitForEvent("download"), page.locator("[data-next]").filter({ hasText: "Save the homework file" }).click()]);
await page.locator("[data-next]").filter({ hasText: "Save the homework file" }).waitFor({ state: "detached" });
const sheet = path.join(OUT, "homework.html");
await file.saveAs(sheet);
const [track] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Save the click track" }).click()]);
assert.match(track.suggestedFilename(), /^click-week-1-161\.wav$/);
await clean("Handout");
await shot("handout");

// On the phone.
const phone = patient(await browser.newContext({ viewport: { width: 360, height: 740 }, acceptDownloads: true }));
await phone.setOffline(true);
const hand = await phone.newPage();
await hand.goto(pathToFileURL(sheet).href);
await hand.getByRole("tab", { name: "Log" }).click();
await hand.locator(".days button").first().click();
await hand.getByLabel("I ran").check();
await hand.getByLabel("Minutes run").fill("30");
await hand.getByLabel("Steps a minute you counted").fill("156");
await hand.getByLabel("Worst pain").selectOption("4");
await hand.getByLabel("Note").fill("Shin, second half");
await hand.getByLabel("Note").blur();
await hand.getByRole("tab", { name: "Send" }).click();
await hand.getByLabel("Everything").check({ force: true });
await hand.getByText("The same in letters").click();
const code = await hand.locator("#code").inputValue();
const [log] = await Promise.all([hand.waitForEvent("download"), hand.getByRole("button", { name: "Save the log as a file" }).click()]);
await log.saveAs(path.join(OUT, "log.json"));

// And back.
await page.getByLabel("Letters of the code").fill(code.slice(0, -3) + "XYZ");
await page.getByRole("button", { name: "Take in" }).click();
await page.getByRole("alert").filter({ hasText: "not whole" }).waitFor();
await page.getByLabel("Letters of the code").fill(code);
await page.getByRole("button", { name: "Take in" }).click();
await page.getByText("1 day taken in, 1 new.").waitFor();
await page.getByText("Shin, second half").waitFor();
await page.getByLabel("Choose the log file").setInputFiles(path.join(OUT, "log.json"));
await page.getByText("This log is here already").waitFor();
const came = page.getByTestId("came");
await came.getByText("Do the week again").waitFor();
assert.equal(await came.getByRole("cell").nth(1).textContent(), "156", "what the runner counted came back");
await clean("Handout with a log");
await shot("log");
await came.getByRole("button", { name: "Enter into the ramp" }).click();
await came.getByText("entered", { exact: true }).waitFor();
assert.ok((await (await fetch(`${base}/api/visits/${visit.id}/steprate`)).json()).ask.turns.length === 1);
await page.setViewportSize({ width: 390, height: 800 });
assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "Handout is wider than a phone");
await page.goto(`${base}/visits/${visit.id}/plan`);
await page.getByTestId("steprate").getByLabel("Week 3, steps/min").waitFor();
for (const width of [320, 390]) {
  await page.setViewportSize({ width, height: 800 });
  const [wide, table] = await page.evaluate(() => [document.documentElement, document.querySelector("[data-testid=steprate] .wide")].map((e) => e.scrollWidth - e.clientWidth));
  assert.ok(wide <= 0, `Plan is wider than ${width} px`);
  assert.ok(table <= 0, `the ramp scrolls sideways at ${width} px`);
}
await shot("steprate-phone");
assert.deepEqual(errors, []);

// Two weeks more, with notes: several QR codes on the phone, held to the studio's
// camera one after the other.
await hand.evaluate(() => {
  const key = `gaitwright.homework.${JSON.parse(document.getElementById("data").textContent).sheet}`;
  const days = JSON.parse(localStorage.getItem(key));
  const first = Object.keys(days)[0];
  for (let i = 1; i < 14; i++) {
    const d = new Date(first + "T12:00:00Z");
    d.setUTCDate(d.getUTCDate() - i); // days to come are refused
    days[d.toISOString().slice(0, 10)] = { done: [], ran: i % 2 === 0, run_min: i % 2 === 0 ? 30 : null, pain: 0, next_day: false, bone: false, effort: 4, per_min: 161, note: i % 3 ? "" : `Easy, day ${i} – flat road` };
  }
  localStorage.setItem(key, JSON.stringify(days));
});
await hand.reload();
await hand.setViewportSize({ width: 390, height: 844 });
await hand.getByRole("tab", { name: "Send" }).click();
await hand.getByLabel("Everything").check({ force: true });
const many = Number(/of (\d+)/.exec(await hand.getByText(/^Code 1 of/).textContent())[1]);
assert.ok(many > 1, "a long log is one code");
for (let k = 1; k <= many; k++) {
  await hand.getByText(`Code ${k} of ${many}`).waitFor();
  await hand.locator("svg.qr").scrollIntoViewIfNeeded();
  await hand.screenshot({ path: path.join(OUT, `code-${k}.png`) });
  if (k < many) await hand.getByRole("button", { name: "Next code" }).press("Enter");
}
await shot("homework-codes", hand);
await clean("the codes on the phone", hand);
await browser.close();

// What the studio's camera sees: the phone's screen, three seconds each.
const film = path.join(OUT, "phone.mjpeg");
execFileSync("ffmpeg", ["-v", "error", "-framerate", "1/3", "-i", path.join(OUT, "code-%d.png"), "-r", "30", "-vf", "scale=-2:700,pad=1280:720:(ow-iw)/2:(oh-ih)/2:color=gray", "-pix_fmt", "yuvj420p", "-q:v", "3", film]);
const scanner = await launch("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-video-capture=${film}`);
const desk = await patient(await scanner.newContext({ viewport: { width: 1400, height: 900 }, locale: "en-GB", permissions: ["camera"] })).newPage();
desk.on("pageerror", (e) => errors.push(String(e)));
await desk.goto(`${base}/visits/${visit.id}/handout`);
await desk.getByRole("button", { name: "Scan the code" }).click();
await desk.getByText(new RegExp(`\\d of ${many} codes read`)).waitFor();
await clean("scanning", desk);
await shot("scanning", desk);
await desk.getByText("14 days taken in: 13 new, 0 changed, 1 here already.").waitFor();
await desk.getByText(/day 12 – flat road/).waitFor();
assert.equal(await desk.locator("video").count(), 0, "the camera stays on");
// And the same as a picture of the first code: it says what is missing.
await desk.getByLabel("Choose the log file").setInputFiles(path.join(OUT, "code-1.png"));
await desk.getByRole("alert").filter({ hasText: "missing: 2" }).waitFor();
await shot("scanned", desk);
console.log(`${many} codes scanned, 14 days`);
assert.deepEqual(errors, []);
await scanner.close();
