// Drives the built page in a real Chromium against the server of invented
// results. `go test ./internal/web -run TestPageInBrowser -v` starts both; by
// hand: PAGE=http://127.0.0.1:8787/ node e2e/page.e2e.mjs
//
// Every film of the invented results shows its frame's number as twelve blocks
// of colour along the top, so that what the canvas shows can be read back.
import assert from "node:assert/strict";
import { join } from "node:path";
import { asking, checks, shots } from "./checks.mjs";
import { faults } from "./sound.mjs";
import { pictures, still, until } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8787/";
const empty = process.env.EMPTY_PAGE;
const repeats = process.env.REPEATED_PAGE;

// ONLY=word runs the checks whose name has the word in it.

// Reading the canvas back is this script's doing, not the page's.
const { check, end } = await checks({ pages: [page0, empty, repeats], context: { viewport: { width: 1400, height: 900 } }, quiet: /willReadFrequently/ });

const ada = "results/2026-11-25-ada";
const pane = (page, i = 0) => page.locator(".pane canvas").nth(i);

async function open(page, path) {
  await page.goto(page0 + path);
  await ready(page);
  await page.locator(".tag", { hasText: "waiting" }).first().waitFor({ state: "detached" });
}

/** Every pane has its picture. */
async function ready(page) {
  await page.locator(".pane canvas[data-frame]").first().waitFor();
  await page.locator(".pane canvas:not([data-frame])").waitFor({ state: "detached" });
}

/** Reads the number out of the picture on the i-th canvas, and what the page says it is. */
function read(page, i = 0, size = [1280, 720]) {
  return page.evaluate(
    ([i, w, h]) => {
      const canvas = document.querySelectorAll(".pane canvas")[i];
      const g = canvas.getContext("2d");
      const scale = Math.min(canvas.width / w, canvas.height / h);
      const left = canvas.width / 2 - (w * scale) / 2;
      const top = canvas.height / 2 - (h * scale) / 2;
      let bits = 0;
      for (let bit = 0; bit < 12; bit++) {
        const [r, , b] = g.getImageData(Math.round(left + (32 + bit * 32) * scale), Math.round(top + 32 * scale), 1, 1).data;
        if (r > 180 && b < 120) bits |= 1 << bit;
        else if (!(b > 140 && r < 90)) return { bits: `block ${bit} is neither` };
      }
      return { bits, frame: Number(canvas.dataset.frame) };
    },
    [i, ...size],
  );
}

async function shows(page, frame, i = 0, size = [1280, 720]) {
  await page.waitForFunction(([f, i]) => document.querySelectorAll(".pane canvas")[i]?.dataset.frame === String(f), [frame, i]);
  const got = await read(page, i, size);
  assert.equal(got.bits, frame, `the canvas shows picture ${got.bits}, wanted ${frame}`);
}

const frameText = async (page) => Number((await page.getByTestId("frame").locator("b").textContent()).trim());
const api = asking(`${page0}api/`);
const session = await api(ada);
const track = await api(`${ada}/clips/0/track`);
const clip = session.clips[0];

await check("the list has the newest first and leads to a result and back", {}, async (page) => {
  await page.goto(page0 + "results");
  await page.locator("main > ul strong").first().waitFor();
  const names = await page.locator("main > ul strong").allTextContents();
  assert.deepEqual(names, ["Ada Merriweather", "Tom Okonjo", "Ida Fenn", "Ada Merriweather"]);
  await page.locator("main > ul a").first().click();
  await page.getByRole("heading", { level: 1, name: "Ada Merriweather" }).waitFor();
  assert.ok(page.url().includes(`/${ada}`));
  await page.locator(".pane canvas[data-frame]").first().waitFor();
  await page.goBack();
  await page.getByRole("heading", { level: 1, name: "Results" }).waitFor();
});

await check("every step shows exactly its frame", {}, async (page) => {
  await open(page, ada);
  await shows(page, 0);
  let at = 0;
  const go = async (key, by) => {
    at = Math.max(0, Math.min(419, at + by));
    await page.keyboard.press(key);
    await shows(page, at);
    assert.equal(await frameText(page), at);
  };
  await go("ArrowLeft", -1);
  for (let i = 0; i < 12; i++) await go("ArrowRight", 1);
  for (let i = 0; i < 6; i++) await go("Shift+ArrowRight", 10);
  for (let i = 0; i < 12; i++) await go("ArrowLeft", -1);
  await go("End", 1e9);
  await go("ArrowRight", 1);
  for (let i = 0; i < 5; i++) await go("ArrowLeft", -1);
  await go("Shift+ArrowLeft", -10);
  await go("Home", -1e9);
  await page.getByRole("button", { name: "Next frame" }).click();
  await shows(page, 1);
  await page.getByRole("button", { name: "Next frame" }).press("ArrowRight");
  await shows(page, 2);
});

await check("picture, number and curve agree at every moment of hurried stepping and playing", {}, async (page) => {
  await open(page, ada);
  await page.evaluate(() => {
    window.seen = [];
    const look = () => {
      const canvas = document.querySelector(".pane canvas");
      const curve = document.querySelector("[data-testid=time-curve]");
      const [w, h] = [1280, 720];
      const scale = Math.min(canvas.width / w, canvas.height / h);
      const data = canvas.getContext("2d").getImageData(Math.round(canvas.width / 2 - (w * scale) / 2), Math.round(canvas.height / 2 - (h * scale) / 2), Math.round(416 * scale), Math.round(48 * scale));
      let bits = 0;
      for (let bit = 0; bit < 12; bit++) {
        const o = 4 * (Math.round(32 * scale) * data.width + Math.round((32 + bit * 32) * scale));
        if (data.data[o] > data.data[o + 2]) bits |= 1 << bit;
      }
      window.seen.push([bits, Number(canvas.dataset.frame), Number(document.querySelector("[data-testid=frame] b").textContent), Number(curve.dataset.frame)]);
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  for (let i = 0; i < 60; i++) await page.keyboard.press("ArrowRight", { delay: 5 });
  await shows(page, 60);
  await page.keyboard.press("4");
  await page.keyboard.press("Space");
  await page.waitForFunction(() => new Set(window.seen.map((s) => s[0])).size > 12 && window.seen.at(-1)[0] > 62);
  await page.keyboard.press("Space");
  const seen = await page.evaluate(() => window.seen);
  const wrong = seen.filter((s) => new Set(s).size !== 1);
  assert.deepEqual(wrong.slice(0, 5), [], `${wrong.length} of ${seen.length} moments disagree`);
  const frames = new Set(seen.map((s) => s[0]));
  const at = await frameText(page);
  assert.ok(at > 62, `playing went on to frame ${at} only`);
  assert.ok(frames.size > 12, `only ${frames.size} different frames were seen`);
  await pictures(page, 20);
  assert.equal(await frameText(page), at, "the clip went on after the pause");
  console.log(`      ${seen.length} moments, ${frames.size} different frames, stopped at ${at}`);
});

await check("playing at a quarter takes four times as long", {}, async (page) => {
  // The marker file: it waits for no pictures. 200 frames a second.
  await page.clock.install();
  await open(page, "results/2026-11-22-markers#frame=60");
  await page.getByRole("button", { name: "a quarter" }).click();
  // By a clock that this script moves on.
  await page.clock.pauseAt(Date.now() + 3600000);
  await page.locator("button.play").click();
  const at = async (ms) => {
    await page.clock.runFor(ms);
    return frameText(page);
  };
  const from = await at(300);
  const frames = (await at(2000)) - from;
  assert.ok(Math.abs(frames - 100) <= 2, `a quarter of 200 frames a second went on by ${frames} in 2 s, want 100`);
  // Any other rate is typed, and has bounds.
  const percent = page.getByLabel("Any other speed, in percent of real time");
  assert.equal(await percent.inputValue(), "25");
  await percent.fill("9000");
  await percent.press("Tab");
  assert.equal(await percent.inputValue(), "400");
  await percent.fill("12");
  await percent.press("Tab");
  const begin = await frameText(page);
  const slow = (await at(2000)) - begin;
  assert.ok(Math.abs(slow - 48) <= 2, `12 % of 200 frames a second went on by ${slow} in 2 s, want 48`);
});

await check("contacts and toe-offs are where the data say", {}, async (page) => {
  await open(page, ada);
  const frameAt = (t) => track.time_s.findIndex((s) => s >= t - 1e-6);
  const contacts = [...new Set(clip.contacts.map((c) => frameAt(c.initial_contact_s)))].sort((a, b) => a - b);
  for (const f of contacts.slice(0, 6)) {
    await page.keyboard.press("]");
    await shows(page, f);
  }
  for (const f of contacts.slice(0, 5).reverse()) {
    await page.keyboard.press(",");
    await shows(page, f);
  }
  const offs = clip.contacts.map((c) => frameAt(c.toe_off_s)).sort((a, b) => a - b);
  await page.keyboard.press("Home");
  await page.keyboard.press("}");
  await shows(page, offs[0]);
  await page.getByRole("button", { name: "Next contact" }).click();
  await shows(page, contacts.find((f) => f > offs[0]));
});

await check("curves follow the frame and lead to it", {}, async (page) => {
  await open(page, ada);
  const curve = page.getByTestId("time-curve");
  const values = track.series["knee_flexion/left"].values;
  const starts = clip.contacts.filter((c) => c.side === "left").map((c) => c.initial_contact_s);
  for (const f of [0, 7, 61, 200, 321, 419]) {
    await page.evaluate((f) => (location.hash = `#clip=0&frame=${f}`), f);
    await shows(page, f);
    assert.equal(await curve.getAttribute("data-frame"), String(f));
    const said = await page.getByTestId("values").locator(".left b").textContent();
    assert.equal(said, `${values[f].toFixed(0)}°`);
    const t = track.time_s[f];
    const i = starts.findLastIndex((s) => s <= t);
    if (i >= 0 && i < starts.length - 1) {
      const percent = (100 * (t - starts[i])) / (starts[i + 1] - starts[i]);
      const dot = Number(await page.getByTestId("dot-left").getAttribute("data-percent"));
      assert.ok(Math.abs(dot - percent) < 0.02, `dot at ${dot} %, frame ${f} is at ${percent} %`);
    } else {
      assert.equal(await page.getByTestId("dot-left").count(), 0);
    }
  }
  // A gap in the data is a gap on the page, not a nought.
  await page.evaluate(() => (location.hash = "#clip=0&frame=202"));
  await shows(page, 202);
  assert.equal(await page.getByTestId("values").locator(".right b").textContent(), "–");
  // A press on the curve: the frame under the pointer.
  await curve.scrollIntoViewIfNeeded();
  const box = await curve.boundingBox();
  const cursor = Number(await curve.getAttribute("data-cursor"));
  const x = box.x + cursor + 150;
  await page.mouse.click(x, box.y + 60);
  await page.waitForFunction(() => document.querySelector("[data-testid=time-curve]").dataset.frame !== "202");
  const now = Number(await curve.getAttribute("data-cursor"));
  const perFrame = (box.width - 46 - 12) / 2.2 / 60;
  assert.ok(Math.abs(now - (cursor + 150)) <= perFrame / 2 + 0.6, `pressed at ${cursor + 150}, the cursor is at ${now}`);
  // The belt strip.
  const strip = page.getByRole("slider");
  await strip.scrollIntoViewIfNeeded();
  const belt = await strip.boundingBox();
  await page.mouse.move(belt.x + 26, belt.y + 20);
  await page.mouse.down();
  await page.mouse.move(belt.x + 26 + (belt.width - 36) / 2, belt.y + 20, { steps: 8 });
  await page.mouse.up();
  await page.waitForFunction(() => Math.abs(Number(document.querySelector(".pane canvas").dataset.frame) - 209.5) <= 1);
  assert.equal(await strip.getAttribute("aria-valuenow"), String(await frameText(page)));
  await page.keyboard.press("c");
  await page.getByRole("heading", { name: "Hip flexion" }).waitFor();
});

await check("both views show the same moment of the stride", {}, async (page) => {
  await open(page, ada + "#frame=150");
  await shows(page, 150);
  // The runner filling the pane, and the whole picture again.
  await page.getByRole("button", { name: "Runner" }).last().click();
  await page.locator(".pane:last-child canvas.near").waitFor();
  await page.getByRole("button", { name: "Whole" }).click();
  const rear = session.clips[1];
  const rearTrack = await api(`${ada}/clips/1/track`);
  const phase = (contacts, t) => {
    const s = contacts.filter((c) => c.side === "left").map((c) => c.initial_contact_s);
    const i = s.findLastIndex((v) => v <= t);
    return (t - s[i]) / (s[i + 1] - s[i]);
  };
  for (let i = 0; i < 6; i++) {
    await page.keyboard.press("Shift+ArrowRight");
    await shows(page, 160 + 10 * i);
    await page.locator(".tag", { hasText: "waiting" }).waitFor({ state: "detached" });
    const other = await read(page, 1, [720, 1280]);
    assert.equal(other.bits, other.frame);
    const apart = Math.abs(phase(clip.contacts, track.time_s[160 + 10 * i]) - phase(rear.contacts, rearTrack.time_s[other.frame]));
    assert.ok(Math.min(apart, 1 - apart) < 0.5 / 60 / 0.7 + 0.001, `the views are ${apart} of a stride apart`);
  }
  await page.keyboard.press("v");
  await page.getByRole("button", { name: /^Rear/, pressed: true }).waitFor();
  const before = (await read(page, 1, [720, 1280])).frame;
  await page.keyboard.press("ArrowRight");
  await shows(page, before + 1, 1, [720, 1280]);
});

await check("keys: help, switching single keys off, zoom", {}, async (page) => {
  await open(page, ada);
  await page.keyboard.press("?");
  const dialog = page.getByRole("dialog", { name: "Keys" });
  await dialog.waitFor();
  await dialog.getByRole("checkbox").uncheck();
  await page.keyboard.press("Escape");
  await dialog.waitFor({ state: "hidden" });
  await page.keyboard.press("]");
  await page.keyboard.press("?");
  // Keys are obeyed in their order: had the contact been gone to, it would not be the second frame.
  await page.keyboard.press("ArrowRight");
  await shows(page, 1);
  assert.equal(await dialog.isVisible(), false);
  await page.reload();
  await ready(page);
  await page.getByRole("button", { name: "Keys" }).click();
  assert.equal(await dialog.getByRole("checkbox").isChecked(), false, "the choice was not kept");
  await dialog.getByRole("checkbox").check();
  await dialog.getByRole("button", { name: "Close" }).click();
  await page.keyboard.press("+");
  await page.locator(".pane canvas.near").first().waitFor();
  await page.getByRole("button", { name: "Whole" }).first().waitFor();
  await page.keyboard.press("0");
  await pane(page).and(page.locator(":not(.near)")).waitFor();
});

await check("the skeleton is on the body and can be put away", {}, async (page) => {
  await open(page, ada + "#frame=130");
  await shows(page, 130);
  const knee = track.landmarks.indexOf("left_knee");
  const colour = () =>
    page.evaluate(
      ([x, y]) => {
        const canvas = document.querySelector(".pane canvas");
        const scale = Math.min(canvas.width / 1280, canvas.height / 720);
        const p = canvas.getContext("2d").getImageData(Math.round(canvas.width / 2 + (x - 640) * scale), Math.round(canvas.height / 2 + (y - 360) * scale), 1, 1).data;
        return [...p.slice(0, 3)];
      },
      [track.x[knee][130], track.y[knee][130]],
    );
  const [r, , b] = await colour();
  assert.ok(b > 200 && b > r + 60, `the left knee is not marked in the left's colour: ${await colour()}`);
  await page.keyboard.press("s");
  await until("the skeleton is gone", async () => {
    const [r2, , b2] = await colour();
    return r2 > b2;
  });
});

await check("a marker file is a figure that moves", {}, async (page) => {
  await open(page, "results/2026-11-22-markers");
  const print = () => page.evaluate(() => document.querySelector(".pane canvas").toDataURL());
  const a = await print();
  await page.keyboard.press("Shift+ArrowRight");
  await page.waitForFunction(() => document.querySelector(".pane canvas").dataset.frame === "10");
  assert.ok((await print()) !== a, "the figure stood still");
  assert.equal(await page.locator("[data-testid=frame] b").textContent(), "10");
});

await check("the table: errors, differences, reasons, explanations, the report", {}, async (page) => {
  await open(page, ada);
  const row = (name) => page.getByRole("row").filter({ has: page.getByRole("button", { name, exact: true }) });
  const text = (await row("Knee flexion at contact").innerText()).replace(/\s+/g, " ");
  assert.match(text, /17\.2° ± 2\.6 within error of the border 24\.9° ± 2\.9 outside \+7\.7° clear/i);
  assert.match(await row("Contact time").innerText(), /within error/);
  assert.match(await row("Peak rearfoot eversion").innerText(), /Not given:.*stickers/);
  assert.match(await row("Foot strike").first().innerText(), /rearfoot/);
  assert.equal(await row("Step rate").count(), 1);
  await page.getByRole("button", { name: "Pelvic drop", exact: true }).last().click();
  const dialog = page.getByRole("dialog", { name: "Pelvic drop" });
  await dialog.getByText("How far the pelvis tilts").waitFor();
  await page.keyboard.press("Escape");
  await dialog.waitFor({ state: "hidden" });
  const href = await page.getByRole("link", { name: "Report (PDF)" }).getAttribute("href");
  const res = await fetch(new URL(href, page0));
  assert.equal(res.headers.get("content-type"), "application/pdf");
});

await check("ranges stand beside their measures in words that do not judge", {}, async (page) => {
  await open(page, ada);
  const row = (name) => page.getByRole("row").filter({ has: page.getByRole("button", { name, exact: true }) });
  const text = async (name) => (await row(name).innerText()).replace(/\s+/g, " ");
  assert.match(await text("Step rate"), /typical 156\.0 to 184\.0 at this speed.*inside/);
  assert.match(await text("Knee flexion at contact"), /typical 8\.0 to 18\.5° at this speed.*within error of the border.*outside/);
  assert.match(await text("Pelvic drop"), /typical up to 5\.2°(?! at)/);
  assert.doesNotMatch(await text("Overstride"), /typical/);
  assert.equal(await row("Overstride").getByRole("img").count(), 0);
  // The dot stands on the axis where the value does: 17.2 between 8 and 18.5.
  const at = await row("Knee flexion at contact")
    .getByRole("img")
    .first()
    .evaluate((svg) => [...svg.querySelectorAll(".end")].map((e) => e.getBBox().x).concat(Number(svg.querySelector("circle").getAttribute("cx"))));
  assert.ok(Math.abs((at[2] - at[0]) / (at[1] - at[0]) - (17.2 - 8) / 10.5) < 0.01, `marks at ${at}`);
  await page.getByRole("button", { name: "Knee flexion at contact", exact: true }).click();
  const dialog = page.getByRole("dialog", { name: "Knee flexion at contact" });
  const said = (await dialog.innerText()).replace(/\s+/g, " ");
  assert.match(said, /Reference range 8\.0 to 18\.5°, measured at 3\.3-3\.7 m\/s/);
  assert.match(said, /Left: within error of the border of the range of 30 runners/);
  assert.match(said, /Right: outside the range of 30 runners/);
  assert.match(said, /invented for this test, n = 30/);
});

if (repeats) {
  const wide = "subject,first,second\n" + [[494, 512], [395, 430], [516, 520], [434, 428], [476, 500], [557, 600], [413, 364]].map(([a, b], i) => `S${i},${a},${b}`).join("\n");
  const drop = async (page, name, text) => {
    await page.locator(".drop").first().waitFor();
    await page.evaluate(
      ([name, text]) => {
        const data = new DataTransfer();
        data.items.add(new File([text], name, { type: "text/csv" }));
        for (const kind of ["dragover", "drop"]) document.querySelector(".drop").dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
      },
      [name, text],
    );
  };

  await check("reliability: from the list, kept results by keyboard, errors taken over", {}, async (page) => {
    await page.goto(repeats + "results");
    await page.getByRole("link", { name: "How far do readings agree?" }).click();
    await page.getByRole("heading", { level: 1, name: "How far do your readings agree?" }).waitFor();
    await page.locator(".runners fieldset").first().waitFor();
    assert.equal(await page.locator(".runners fieldset").count(), 21, "only runners with two results");
    assert.ok(await page.getByRole("button", { name: "Compare" }).isDisabled());
    // The second result first: it is the first reading.
    const ada = page.getByRole("group", { name: "Ada Invented" }).getByRole("checkbox");
    await ada.nth(1).focus();
    await page.keyboard.press("Space");
    await ada.nth(0).check();
    assert.deepEqual(await page.locator(".nth").allTextContents(), ["reading 2", "reading 1"]);
    await page.getByRole("button", { name: "Choose none" }).click();
    await page.getByRole("button", { name: "Choose all" }).click();
    await page.getByRole("button", { name: "Compare" }).focus();
    await page.keyboard.press("Enter");
    const series = page.locator(".series details");
    await series.first().waitFor();
    assert.equal(await series.count(), 4);
    const one = page.locator('[data-measure=contact_time][data-side=left]');
    const sentence = await one.locator("summary").innerText();
    const ms = Number(/differ by less than ([0-9.]+)\sms in 19 of 20 cases/.exec(sentence)?.[1]);
    assert.ok(ms > 12 && ms < 23, `invented with 16.6 ms, the page says: ${sentence}`);
    assert.equal(await page.getByTestId("agreement-plot").count(), 0);
    await one.locator("summary").focus();
    await page.keyboard.press("Enter");
    await one.getByTestId("agreement-plot").waitFor();
    assert.equal(await one.locator("svg .dot").count(), 21);
    assert.equal(await one.locator("tbody tr").count(), 13);
    assert.equal(await one.locator("table").count(), 2);
    // A digitisation of the same film tells nothing of visits.
    await page.getByRole("radio", { name: /The same film digitised anew/ }).check();
    await page.getByText("these cannot be taken over").waitFor();
    await page.getByRole("radio", { name: /Filmed anew/ }).check();
    await page.getByRole("button", { name: "Use these 2 errors…" }).click();
    const dialog = page.getByRole("dialog", { name: "Use these as the studio’s own errors?" });
    await dialog.getByText(/Contact time: ± [0-9.]+\sms, a change counts from/).waitFor();
    await sound(page);
    await page.keyboard.press("Escape");
    await dialog.waitFor({ state: "hidden" });
    await page.getByRole("button", { name: "Use these 2 errors…" }).click();
    await dialog.getByRole("button", { name: "Use them" }).click();
    await page.getByText("2 errors are the studio’s own from now on.").waitFor();
    await page.goBack();
    await page.getByRole("heading", { level: 1, name: "Results" }).waitFor();
  });

  await check("reliability: a table dropped, one that is wrong, one too large", {}, async (page, complaints) => {
    await page.goto(repeats + "reliability");
    await drop(page, "flow.csv", wide);
    const one = page.locator(".series details");
    await one.getByText("Too few to rely on: 7 runners and 7 degrees of freedom").waitFor();
    assert.match(await one.innerText(), /differ by less than \d+(\.\d)? in 19 of 20 cases/);
    assert.equal(await one.locator("svg .dot").count(), 7);
    await page.getByLabel("What the table holds").selectOption("contact_time");
    await one.getByText("Contact time", { exact: true }).waitFor();
    await drop(page, "wrong.csv", "a,b\n1,x\n2,3\n");
    await page.getByRole("alert").getByText('wrong.csv: subject 1, column b: "x" is no number').waitFor();
    complaints.length = 0; // the browser logs the 422 itself
    assert.equal(await one.count(), 0, "figures of the table before are still shown");
    await drop(page, "big.csv", "1,2\n".repeat(1.5e6));
    await page.getByRole("alert").getByText("big.csv is larger than 5 MB").waitFor();
    // Three columns: one may be left out.
    await page.setInputFiles("input[type=file]", { name: "three.csv", mimeType: "text/csv", buffer: Buffer.from("J1,J2,J3\n9,2,5\n6,1,3\n8,4,6\n7,1,2\n") });
    await page.getByRole("group", { name: "Readings compared" }).waitFor();
    assert.equal(await page.locator(".series option").count(), 3);
    await page.getByRole("checkbox", { name: "J2" }).uncheck();
    await page.waitForFunction(() => document.querySelectorAll(".series option").length === 0);
    assert.match(await page.locator(".series").innerText(), /“J1” reads .* more than “J3”/);
    assert.ok(await page.getByRole("checkbox", { name: "J1" }).isDisabled());
  });
}

await check("picture and curves are in sight together", { viewport: { width: 1400, height: 900 } }, async (page) => {
  await open(page, ada);
  const curve = await page.getByTestId("time-curve").boundingBox();
  assert.ok(curve.y + curve.height <= 900, `the curve ends at ${curve.y + curve.height} of 900`);
  const picture = await pane(page).boundingBox();
  assert.ok(picture.height >= 350, `the picture is ${picture.height} high`);
});

await check("what does not exist is said plainly", {}, async (page, complaints) => {
  await page.goto(page0 + "results/nobody");
  await page.getByRole("alert").getByText("there is no result").waitFor();
  complaints.length = 0; // the browser logs the 404 itself
});

if (empty) {
  await check("with nothing measured the page says how to begin", {}, async (page) => {
    await page.goto(empty + "results");
    await page.getByText("gaitwright measure side.mp4 rear.mp4 --speed 3.5m/s --height 178cm").waitFor();
    await page.getByRole("img", { name: /Plan of a treadmill/ }).waitFor();
  });
}

// Accessibility, width and looks: each page, light and dark, three widths. It is opened
// once, dark on a phone, then made light and broader: what it is by then has to hold.
const pages = [
  ["list", page0 + "results", null],
  ["first", empty && empty + "results", null],
  ["result", page0 + ada + "#frame=124", "canvas"],
  ["markers", page0 + "results/2026-11-22-markers#frame=304", "canvas"],
  ["agreement", repeats && repeats + "reliability", "kept"],
  ["table", repeats && repeats + "reliability", "table"],
  ["withheld", page0 + "results/2026-11-24-tom#frame=50", "canvas"],
];
// Layout does not change with the colours: the middle width is looked at in one.
const looks = [["dark", 390], ["light", 390], ["light", 820], ["light", 1400], ["dark", 1400]];
for (const [name, url, wait] of pages) {
  if (!url) continue;
  await check(`${name}: accessible and not too wide, light and dark, at three widths`, { colorScheme: looks[0][0], viewport: { width: looks[0][1], height: 844 } }, async (page) => {
    await page.goto(url);
    if (wait === "kept") {
      await page.getByRole("button", { name: "Choose all" }).click();
      await page.getByRole("button", { name: "Compare" }).click();
      await page.locator(".series summary").nth(1).click();
      await page.getByTestId("agreement-plot").waitFor();
    } else if (wait === "table") {
      await page.setInputFiles("input[type=file]", { name: "ratings.csv", mimeType: "text/csv", buffer: Buffer.from("J1,J2,J3,J4\n9,2,5,8\n6,1,3,2\n8,4,6,8\n7,1,2,6\n10,5,6,9\n6,2,4,7\n") });
      await page.getByTestId("agreement-plot").waitFor();
      await page.locator(".forms summary").click();
    } else if (wait) {
      await page.locator(".pane canvas[data-frame]").first().waitFor();
      await page.locator(".tag", { hasText: "waiting" }).first().waitFor({ state: "detached" });
    } else await page.locator("main h1").waitFor();
    let angles = false; // in the picture
    for (const [scheme, width] of looks) {
      await page.setViewportSize({ width, height: width === 390 ? 844 : 900 });
      await page.emulateMedia({ colorScheme: scheme });
      await page.waitForFunction((s) => document.documentElement.dataset.look === s, scheme);
      if (name === "list" && width === 820) await page.locator("summary").click();
      if (name === "result" && angles !== (width !== 820)) {
        await page.keyboard.press("a");
        angles = !angles;
      }
      await sound(page, scheme);
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(over <= 0, `${over} px too wide at ${width}, ${scheme}`);
      const small = await page.evaluate(() =>
        [...document.querySelectorAll(".stage button, header a, .choose button")]
          .map((b) => [b.textContent.trim() || b.ariaLabel, b.getBoundingClientRect()])
          .filter(([, r]) => r.width && (r.width < 44 || r.height < 44) && r.height < 44)
          .map(([n]) => n),
      );
      assert.deepEqual(small, [], `targets lower than 44 px at ${width}`);
      if (shots) await page.screenshot({ path: join(shots, `${name}-${scheme}-${width}.png`), fullPage: true });
      if (name === "result" && width === 390) {
        await page.locator(".table button").first().click();
        await sound(page, scheme);
        await page.keyboard.press("Escape");
        await page.keyboard.press("?");
        await sound(page, scheme);
        await page.keyboard.press("Escape");
        await page.locator("dialog[open]").waitFor({ state: "detached" });
      }
    }
  });
}

async function sound(page, scheme) {
  assert.deepEqual(await faults(page, scheme), []);
}

await check("a page elsewhere that opens this one has no hold on it, its own has", {}, async (page, complaints, context) => {
  const elsewhere = "http://elsewhere.invalid/";
  await context.route(elsewhere, (r) => r.fulfill({ contentType: "text/html", body: "<!doctype html><title>elsewhere</title>" }));
  for (const [from, held] of [[elsewhere, false], [page0, true]]) {
    const opener = await context.newPage();
    await opener.goto(from);
    const opens = context.waitForEvent("page");
    await opener.evaluate((to) => void (window.opened = open(to)), page0);
    const opened = await opens;
    await opened.locator("main h1").waitFor();
    assert.equal(await opened.evaluate(() => opener !== null), held, `opener, from ${from}`);
    assert.equal(await opener.evaluate(() => !opened.closed), held, `what was opened, from ${from}`);
  }
});

await check("the first page is small", {}, async (page) => {
  let bytes = 0;
  const client = await page.context().newCDPSession(page);
  await client.send("Network.enable");
  client.on("Network.loadingFinished", (e) => (bytes += e.encodedDataLength));
  const began = performance.now();
  await page.goto(page0 + "results");
  await page.locator("main li").first().waitFor();
  const first = performance.now() - began;
  assert.ok(bytes < 200_000, `the first page took ${bytes} bytes`);
  console.log(`      first page: ${first.toFixed(0)} ms, ${(bytes / 1000).toFixed(1)} kB`);

});

await end();
