// Drives the page of two strides in a real Chromium against real films.
// `go test ./internal/app -run TestBesideInBrowser -v` starts it; by hand, with that
// test's -stay and what it then prints:
// PAGE=http://127.0.0.1:8788/ VISIT=… RESULT=… BEFORE=… node e2e/beside.e2e.mjs
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { asking, checks, shots } from "./checks.mjs";
import * as looked from "./sound.mjs";
import { placed, until } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8788/";
const { VISIT: visit, RESULT: result, BEFORE: before } = process.env;

const { check, end } = await checks({ pages: [page0], context: { viewport: { width: 1440, height: 960 }, acceptDownloads: true } });

const api = asking(page0);
const drawn = (id = result) => api(`api/results/${id}/clips/0/drawings`);
async function clean() {
  for (const id of [result, before]) {
    const d = await drawn(id);
    if (d.marks.length) await api(`api/results/${id}/clips/0/drawings`, "PUT", { version: d.version, what: "Wiped", marks: [] });
  }
}

const canvas = (page, letter) => page.locator(`canvas[data-letter=${letter}]`);
const shows = (page, letter, frame) => page.waitForFunction(([l, f]) => document.querySelector(`canvas[data-letter=${l}]`)?.dataset.frame === String(f), [letter, frame]);
/** Where a place of the film is on the screen. */
async function onScreen(page, letter, x, y) {
  await placed(page, `canvas[data-letter=${letter}]`, "data-place");
  const box = await canvas(page, letter).boundingBox();
  const [scale, left, top] = (await canvas(page, letter).getAttribute("data-place")).split(",").map(Number);
  return [box.x + left + x * scale, box.y + top + y * scale, scale];
}

/** Accessibility of the page as it stands, in light and in dark, and whether it is too wide. */
const sound = (page, name) => looked.sound(page, name, { shots });

await check("the return leads to the two films of what it compares", {}, async (page) => {
  const told = await api(`api/visits/${visit}/return`);
  const curve = told.curves.find((c) => c.beside);
  assert.match(curve.beside, new RegExp(`^/visits/${visit}/beside#a=${before}/0/0&b=${result}/0/0&foot=`));
  await page.goto(`${page0}visits/${visit}/return`);
  const curves = page.getByTestId("curves");
  await curves.getByLabel("Curve").selectOption(curve.name);
  await curves.getByRole("link", { name: "See both side by side" }).first().click();
  await canvas(page, "B").waitFor();
  assert.equal(await page.getByRole("combobox", { name: "Film A", exact: true }).inputValue(), `${before} 0`);
  assert.equal(await page.getByRole("combobox", { name: "Film B", exact: true }).inputValue(), `${result} 0`);
  const pairing = await api(`api/pairing?${curve.beside.split("#")[1]}`);
  await shows(page, "A", pairing.steps[0].a);
  await shows(page, "B", pairing.steps[0].b);
});

await check("the visit before lies beside this one, and both move by equal phase", {}, async (page) => {
  await clean();
  await page.goto(`${page0}visits/${visit}/beside`);
  await canvas(page, "B").waitFor();
  assert.equal(await page.getByRole("combobox", { name: "Film A", exact: true }).inputValue(), `${result} 0`);
  assert.equal(await page.getByRole("combobox", { name: "Film B", exact: true }).inputValue(), `${before} 0`);
  let pairing = await api(`api/pairing?a=${result}/0/0&b=${before}/0/0&foot=left`);
  await shows(page, "A", pairing.steps[0].a);
  await page.getByLabel("Stride of film B").selectOption("1");
  pairing = await api(`api/pairing?a=${result}/0/0&b=${before}/0/1&foot=left`);
  await shows(page, "B", pairing.steps[0].b);
  for (let k = 1; k <= 6; k++) {
    await page.keyboard.press("ArrowRight");
    await shows(page, "A", pairing.steps[k].a);
    await shows(page, "B", pairing.steps[k].b);
  }
  await page.getByTestId("phase").filter({ hasText: `${(100 * pairing.steps[6].phase).toFixed(0)} % of the left stride` }).waitFor();
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowLeft"); // counted round
  await shows(page, "A", pairing.steps.at(-1).a);
  // The right foot by key.
  await page.keyboard.press("f");
  pairing = await api(`api/pairing?a=${result}/0/0&b=${before}/0/0&foot=right`);
  await shows(page, "A", pairing.steps[0].a);
  await page.getByTestId("phase").filter({ hasText: "right stride" }).waitFor();
  await page.keyboard.press("a");
  for (let i = 0; i < 9; i++) await page.keyboard.press("ArrowRight");
  await shows(page, "B", pairing.steps[9].b);
  await sound(page, "desk-beside");
  // Over each other, with one length of leg.
  await page.getByRole("radio", { name: "Laid over" }).check();
  await page.getByLabel("How much of B shows").fill("0.4");
  await page.getByLabel("Stride of film B").selectOption("1");
  await sound(page, "desk-over");
  // Playing moves both and stops at once.
  await page.getByRole("region", { name: "Pictures" }).focus();
  const wasAt = await canvas(page, "A").getAttribute("data-frame");
  await page.keyboard.press(" ");
  await page.waitForFunction((f) => document.querySelector("canvas[data-letter=A]").dataset.frame !== f, wasAt);
  await page.keyboard.press(" ");
  // The address brings it back.
  await page.waitForFunction(() => location.hash.includes("show=over") && location.hash.includes("foot=right"));
  await page.reload();
  await canvas(page, "A").waitFor();
  assert.ok(await page.getByRole("radio", { name: "Laid over" }).isChecked());
  assert.ok(await page.getByRole("radio", { name: "right foot" }).isChecked());
});

await check("an angle by mouse, undone and done again, written on, deleted", {}, async (page) => {
  await clean();
  await page.goto(`${page0}results/${result}/beside#a=${result}/0/0&frame=20`);
  await shows(page, "A", 20);
  await page.getByRole("button", { name: "Angle", exact: true }).click();
  const points = [[500, 250], [640, 420], [800, 300]];
  for (const [x, y] of points) {
    const [sx, sy] = await onScreen(page, "A", x, y);
    await page.mouse.move(sx, sy);
    await page.mouse.down();
    await page.mouse.up();
  }
  await page.locator("[data-mark='0']").waitFor();
  let d = await drawn();
  assert.equal(d.marks.length, 1);
  const [p, v, q] = points;
  const want = Math.abs(Math.atan2((p[0] - v[0]) * (q[1] - v[1]) - (p[1] - v[1]) * (q[0] - v[0]), (p[0] - v[0]) * (q[0] - v[0]) + (p[1] - v[1]) * (q[1] - v[1]))) * (180 / Math.PI);
  assert.ok(Math.abs(d.marks[0].angle_deg - want) < 1, `${d.marks[0].angle_deg}°, drawn ${want}°`);
  assert.equal(d.marks[0].frame, 20);
  await page.locator("[data-mark='0'] strong").filter({ hasText: `${d.marks[0].angle_deg.toFixed(1)}°` }).waitFor();
  // A point is dragged.
  const [sx, sy, scale] = await onScreen(page, "A", ...d.marks[0].points[0]);
  await page.mouse.move(sx, sy);
  await page.mouse.down();
  await page.mouse.move(sx + 20 * scale, sy + 10 * scale, { steps: 4 });
  await page.mouse.up();
  await page.waitForFunction(async ([at, x]) => Math.abs((await (await fetch(at)).json()).marks[0].points[0][0] - x) < 1.5, [`/api/results/${result}/clips/0/drawings`, d.marks[0].points[0][0] + 20]);
  await page.getByLabel("Text", { exact: true }).fill("thigh to shank");
  await page.getByLabel("Text", { exact: true }).blur();
  await page.waitForFunction(async (at) => (await (await fetch(at)).json()).marks[0].text === "thigh to shank", `/api/results/${result}/clips/0/drawings`);
  await sound(page, "desk-drawn");
  // Undo twice (the text, the shift), redo, delete.
  await page.keyboard.press("Escape");
  for (const text of ["", "thigh to shank"]) {
    await page.getByRole("button", { name: text ? "Redo drawing" : "Undo drawing" }).click();
    await page.waitForFunction(async ([at, t]) => (await (await fetch(at)).json()).marks[0]?.text === t, [`/api/results/${result}/clips/0/drawings`, text]);
  }
  await page.getByRole("button", { name: "Delete: thigh to shank" }).click();
  await page.getByText("Nothing is drawn on this film.").waitFor();
  assert.equal((await drawn()).marks.length, 0);
});

await check("laid over, what is drawn on both is seen", {}, async (page) => {
  await clean();
  await page.goto(`${page0}visits/${visit}/beside#a=${result}/0/0&b=${before}/0/0&foot=left&show=over&step=0`);
  const { a, b, steps } = await api(`api/pairing?a=${result}/0/0&b=${before}/0/0&foot=left`);
  await shows(page, "A", steps[0].a);
  // Where the line of B lies: the legs of one length, the hips in one place.
  const line = [[300, 120], [300, 320]];
  const bright = () =>
    page.evaluate(
      ([a, b, x, y]) => {
        const c = document.querySelector("canvas[data-letter=A]");
        const ratio = c.width / c.getBoundingClientRect().width;
        const [scale, left, top] = c.dataset.place.split(",").map(Number);
        const by = (scale * a.leg_px) / b.leg_px;
        const at = [left + a.hip_x_px * scale + (x - b.hip_x_px) * by, top + a.hip_y_px * scale + (y - b.hip_y_px) * by];
        const d = c.getContext("2d").getImageData(Math.round(at[0] * ratio) - 2, Math.round(at[1] * ratio), 5, 1).data;
        return Math.max(...[0, 1, 2, 3, 4].map((i) => Math.min(d[4 * i], d[4 * i + 1], d[4 * i + 2])));
      },
      [a, b, 300, 220],
    );
  const without = await bright();
  assert.ok(without < 245, `the place is white by itself: ${without}`);
  const d = await drawn(before);
  await api(`api/results/${before}/clips/0/drawings`, "PUT", { version: d.version, what: "Drew a line", marks: [{ kind: "line", frame: 0, stays: true, points: line, text: "" }] });
  await page.reload();
  await shows(page, "A", steps[0].a);
  await until("the line of B is seen", async () => (await bright()) >= 245);
});

await check("a line by keys alone", {}, async (page) => {
  await clean();
  await page.goto(`${page0}results/${result}/beside#a=${result}/0/0&frame=12`);
  await shows(page, "A", 12);
  await page.keyboard.press("l");
  await page.getByTestId("said").filter({ hasText: "arrow keys" }).waitFor();
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("Enter");
  await page.getByTestId("said").filter({ hasText: "Point 1 of 2" }).waitFor();
  for (let i = 0; i < 3; i++) await page.keyboard.press("Alt+ArrowRight");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("Enter");
  await page.locator("[data-mark='0']").waitFor();
  let d = await drawn();
  assert.equal(d.marks[0].kind, "line");
  assert.ok(Math.abs(d.marks[0].length_px - 31) < 0.02 && d.marks[0].angle_deg < 0.1, JSON.stringify(d.marks[0]));
  assert.ok(d.marks[0].length_m > 0 && d.marks[0].length_m_sd > 0, "its length in metres with an error");
  // A point in hand is moved a tenth of a pixel, and the mark deleted.
  await page.keyboard.press("p");
  await page.keyboard.press("Shift+ArrowDown");
  await page.waitForFunction(async ([at, y]) => Math.abs((await (await fetch(at)).json()).marks[0].points[0][1] - y) < 0.011, [`/api/results/${result}/clips/0/drawings`, d.marks[0].points[0][1] + 0.1]);
  await page.keyboard.press("p");
  await page.keyboard.press("Delete");
  await page.getByText("Nothing is drawn on this film.").waitFor();
});

await check("the second of two who draw is told", {}, async (page) => {
  await clean();
  const line = { kind: "line", frame: 12, stays: false, points: [[100, 100], [300, 100]] };
  await api(`api/results/${result}/clips/0/drawings`, "PUT", { version: (await drawn()).version, what: "Drew a line", marks: [{ ...line, text: "ours" }] });
  await page.goto(`${page0}results/${result}/beside#a=${result}/0/0&frame=12`);
  await shows(page, "A", 12);
  await page.getByRole("button", { name: "Delete: ours" }).waitFor();
  const d = await drawn();
  await api(`api/results/${result}/clips/0/drawings`, "PUT", { version: d.version, what: "Drew a line elsewhere", marks: [{ ...line, text: "theirs" }] });
  await page.keyboard.press("l");
  await page.keyboard.press("Enter");
  await page.keyboard.press("Alt+ArrowRight");
  await page.keyboard.press("Enter");
  await page.getByRole("alert").filter({ hasText: "Someone else drew" }).waitFor();
  await page.getByRole("button", { name: "Delete: theirs" }).waitFor();
  assert.deepEqual((await drawn()).marks.map((m) => m.text), ["theirs"]);
}, /409/);

for (const [width, options] of [["desk", {}], ["phone", { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }]]) {
  await check(`${width}: pictures and films are taken away`, options, async (page) => {
    await clean();
    await page.goto(`${page0}visits/${visit}/beside`);
    await canvas(page, "B").waitFor();
    const pairing = await api(`api/pairing?a=${result}/0/0&b=${before}/0/0&foot=left`);
    await shows(page, "A", pairing.steps[0].a);
    await shows(page, "B", pairing.steps[0].b);
    const [a, b] = [await canvas(page, "A").boundingBox(), await canvas(page, "B").boundingBox()];
    if (width === "phone") assert.ok(b.y >= a.y + a.height, "they lie one below the other");
    else assert.ok(b.x >= a.x + a.width && Math.abs(b.y - a.y) < 1, "they lie next to each other");
    const [saved] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Save the picture" }).click()]);
    assert.match(saved.suggestedFilename(), /^gait-Invented-Runner-.*-beside-.*-frame-\d+\.png$/);
    const png = await readFile(await saved.path());
    assert.equal(png.subarray(1, 4).toString(), "PNG");
    assert.ok(png.readUInt32BE(16) > 400 && png.readUInt32BE(20) > 400, "its size");
    if (shots) await saved.saveAs(join(shots, `${width}-saved.png`));
    // What is made is the same for both: each form once.
    for (const [format, magic, from] of width === "phone" ? [["MP4", "ftyp", 4]] : [["GIF", "GIF89a", 0], ["MP4", "ftyp", 4]]) {
      await page.getByText(`Film (${format})`).click();
      await page.getByRole("button", { name: "Make the film" }).click();
      const link = page.getByRole("link", { name: "Save the film" }); // not there for one of another kind, made before
      await link.waitFor();
      const [film] = await Promise.all([page.waitForEvent("download"), link.click()]);
      assert.match(film.suggestedFilename(), new RegExp(`-left-stride\\.${format.toLowerCase()}$`));
      const bytes = await readFile(await film.path());
      assert.equal(bytes.subarray(from, from + magic.length).toString(), magic);
      if (shots) await film.saveAs(join(shots, `${width}-saved.${format.toLowerCase()}`));
    }
    await sound(page, `${width}-taken`);
    // Chosen otherwise since: what is ready is told to be what was chosen before, until that is chosen again.
    await page.getByLabel("Plays").selectOption("2");
    await page.getByRole("link", { name: "Save that one" }).waitFor();
    await page.getByLabel("Plays").selectOption("4");
    await page.getByRole("link", { name: "Save the film" }).waitFor();
    // What would be too long is said before it is asked for.
    await page.getByRole("radio", { name: "One film" }).check();
    await page.getByLabel("To frame").fill("149");
    await page.getByLabel("From frame").fill("0");
    await page.getByLabel("Plays").selectOption("8");
    await page.getByText("10 s is the most").waitFor();
    assert.ok(await page.getByRole("button", { name: "Make the film" }).isDisabled());
  });
}

await check("phone: an angle by finger", { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }, async (page) => {
  await clean();
  await page.goto(`${page0}results/${result}/beside#a=${result}/0/0&frame=20`);
  await shows(page, "A", 20);
  await page.getByRole("button", { name: "Angle", exact: true }).click();
  for (const [x, y] of [[560, 250], [640, 420], [700, 300]]) {
    const [sx, sy] = await onScreen(page, "A", x, y);
    await page.touchscreen.tap(sx, sy);
  }
  await page.locator("[data-mark='0']").waitFor();
  assert.equal((await drawn()).marks[0].kind, "angle");
  await sound(page, "phone-drawn");
});

await check("in German, and reached from the runner and the bench", { locale: "de-DE" }, async (page) => {
  const v = await api(`api/visits/${visit}`);
  await page.goto(`${page0}runners/${v.runner.id}`);
  await page.getByRole("link", { name: "Filme dieser Termine nebeneinander" }).click();
  await canvas(page, "B").waitFor();
  await page.getByText(/Doppelschritts, (links|rechts)/).first().waitFor();
  await sound(page, "desk-german");
  await page.goto(`${page0}visits/${visit}/bench/${result}/0#frame=33`);
  await page.getByRole("link", { name: "Zeichnen, vergleichen" }).click();
  await shows(page, "A", 33);
});

await end();
