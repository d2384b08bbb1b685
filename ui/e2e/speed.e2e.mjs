// Takes, by the browser's own clock, what a person at the screen waits for.
// `go test ./internal/app -run '^$' -bench Page` starts it. Each line that is printed
// is {what, median, most, tries}, in ms.
import { launch } from "./checks.mjs";
import { patient, placed } from "./waiting.mjs";

const page0 = process.env.PAGE;
const result = process.env.RESULT;

const browser = await launch();

function say(what, took) {
  took.sort((a, b) => a - b);
  console.log(JSON.stringify({ what, median: Math.round(took[took.length >> 1] * 10) / 10, most: Math.round(took[Math.floor(took.length * 0.9)] * 10) / 10, tries: took.length }));
}

const fresh = async () => patient(await browser.newContext({ viewport: { width: 1440, height: 960 }, locale: "en-GB" }));

async function firstPage() {
  const paint = [];
  const headed = [];
  const list = [];
  const taken = [];
  for (let k = 0; k < 15; k++) {
    // A browser that has nothing of the page kept.
    const context = await fresh();
    const page = await context.newPage();
    await page.addInitScript(() => {
      const painted = (of) =>
        new Promise((done) =>
          new MutationObserver((_, o) => {
            if (!document.querySelector(of)) return;
            o.disconnect();
            requestAnimationFrame(() => setTimeout(() => done(performance.now())));
          }).observe(document, { childList: true, subtree: true, attributes: true }),
        );
      const first = new Promise((done) =>
        new PerformanceObserver((list) => {
          for (const e of list.getEntries()) if (e.name === "first-contentful-paint") done(e.startTime);
        }).observe({ type: "paint", buffered: true }),
      );
      window.times = Promise.all([first, painted("main h2"), painted("main .rows li, main .none"), painted("#page:not([data-first]) main")]);
    });
    await page.goto(page0);
    const [p, h, l, t] = await page.evaluate(() => window.times);
    paint.push(p);
    headed.push(Math.max(p, h));
    list.push(Math.max(p, l));
    taken.push(Math.max(p, t));
    await context.close();
  }
  say("first_paint", paint);
  say("page", headed);
  say("list", list);
  say("taken_over", taken);
}

/** A visit opened from its runner's page: until its last word stands. */
async function visits() {
  const { rows } = await (await fetch(`${page0}api/runners?limit=30`)).json();
  const context = await fresh();
  for (const how of ["straight", "rested_on"]) {
    const whole = [];
    const headed = [];
    for (const r of rows.filter((r) => r.visits).slice(0, 30)) {
      const page = await context.newPage();
      await page.goto(`${page0}runners/${r.id}`);
      const link = page.locator(`main a[href="/visits/${r.last_visit_id}"]`);
      await link.waitFor();
      await page.waitForTimeout(500);
      await page.evaluate(() => {
        window.took = new Promise((done) =>
          addEventListener(
            "click",
            (e) => {
              let last = 0;
              let headed = 0;
              const o = new MutationObserver(() =>
                requestAnimationFrame(() =>
                  setTimeout(() => {
                    last = performance.now() - e.timeStamp;
                    if (!headed && location.pathname.split("/")[3] && document.querySelector("main h1")) headed = last;
                  }),
                ),
              );
              o.observe(document.body, { childList: true, subtree: true, characterData: true });
              setTimeout(() => done([headed, last]), 1000);
            },
            { once: true, capture: true },
          ),
        );
      });
      if (how === "rested_on") {
        await link.hover();
        await page.waitForTimeout(200);
      }
      await link.click();
      const [h, w] = await took(page);
      headed.push(h);
      whole.push(w);
      await page.close();
    }
    if (!whole.length) continue;
    say(`visit_${how}_headed`, headed);
    say(`visit_${how}`, whole);
  }
}

/** From the event to the picture of the screen after an attribute of an element is another. */
const watch = (page, event, of, attribute) =>
  page.evaluate(
    ([event, of, attribute]) => {
      const c = document.querySelector(of);
      const was = c.getAttribute(attribute);
      window.took = new Promise((done) => {
        const begin = (e) => {
          const began = e.timeStamp;
          const o = new MutationObserver(() => {
            if (c.getAttribute(attribute) === was) return;
            o.disconnect();
            const drawn = performance.now() - began;
            requestAnimationFrame(() => setTimeout(() => done([drawn, performance.now() - began])));
          });
          o.observe(c, { attributes: true });
        };
        addEventListener(event, begin, { once: true, capture: true });
      });
    },
    [event, of, attribute],
  );
const canvas = ".picture canvas";
const changes = '[data-testid="changes"]';
// The page is left alone meanwhile: to be asked at every picture of the screen whether it
// is there yet would make the browser paint all the time, on the cores that work it out.
const took = (page) => page.evaluate(() => window.took);

async function bench() {
  const at = `${page0}api/results/${result}`;
  const { clips } = await (await fetch(at)).json();
  const track = await (await fetch(`${at}/clips/0/track`)).json();
  const context = await fresh();
  let page;
  const stances = clips[0].contacts.filter((c) => c.side === "left");
  const stance = stances[stances.length >> 1];
  const mid = track.time_s.findIndex((s) => s >= (stance.initial_contact_s + stance.toe_off_s) / 2);
  const open = async (frame) => {
    await page?.close();
    page = await context.newPage();
    await page.goto(`${page0}results/${result}/bench/0#frame=${frame}`);
    await page.locator(".picture canvas[data-frame]").waitFor();
    await page.getByTestId("guide").getByText(/worth checking$|No frame is likely/).first().waitFor();
  };

  await open(20);
  await page.waitForTimeout(1500);
  const drawn = [];
  const steps = [];
  for (let k = 0; k < 60; k++) {
    await watch(page, "keydown", canvas, "data-frame");
    await page.keyboard.press(k % 12 === 11 ? "," : ".");
    const [d, t] = await took(page);
    drawn.push(d);
    steps.push(t);
    await page.waitForTimeout(60);
  }
  say("step_canvas", drawn);
  say("step_painted", steps);

  await open(mid);
  await page.waitForTimeout(1500);
  await page.keyboard.press("f");
  await placed(page, ".picture canvas", "data-lens");
  const knee = track.landmarks.indexOf("left_knee");
  // Thrown: let go in the moment of the last move. Set down: held where it belongs for
  // as long as it takes to see that it does.
  const landmark = { thrown: [], set_down: [] };
  for (let k = 0; k < 30; k++) {
    const how = k < 15 ? "thrown" : "set_down";
    // Where the knee is now: drawn to and fro.
    const spot = await page.evaluate(
      ([x, y]) => {
        const c = document.querySelector(".picture canvas");
        const [scale, left, top] = c.dataset.lens.split(",").map(Number);
        const box = c.getBoundingClientRect();
        const ratio = c.width / box.width;
        return { x: box.left + (left + x * scale) / ratio, y: box.top + (top + y * scale) / ratio };
      },
      [track.x[knee][mid], track.y[knee][mid]],
    );
    const [from, to] = k % 2 ? [14, 0] : [0, 14];
    await page.mouse.move(spot.x + from, spot.y);
    await page.mouse.down();
    await page.mouse.move(spot.x + to, spot.y, { steps: 4 });
    if (how === "set_down") await page.waitForTimeout(200);
    await watch(page, "pointerup", changes, "data-turn");
    await page.mouse.up();
    landmark[how].push((await took(page))[1]);
    await page.waitForTimeout(400);
  }
  for (const how in landmark) say(`landmark_${how}`, landmark[how]);

  // At once when its end is reached, and when that was looked at for half a second.
  const exchange = { thrown: [], looked_at: [] };
  for (let k = 0; k < 14; k++) {
    const how = k % 4 < 2 ? "thrown" : "looked_at";
    await page.keyboard.press("x");
    for (let n = 0; n < 10; n++) await page.keyboard.press(k % 2 ? "," : ".");
    await page.waitForTimeout(how === "thrown" ? 0 : 500);
    await watch(page, "keydown", changes, "data-turn");
    await page.keyboard.press("x");
    exchange[how].push((await took(page))[1]);
    await page.waitForTimeout(400);
  }
  for (const how in exchange) say(`exchange_${how}`, exchange[how]);

  // By keys: until the measures follow the hand; they are kept once the keys rest.
  const edge = [];
  for (let k = 0; k < 9; k++) {
    const slider = page.getByRole("slider", { name: /left foot, initial contact at/ }).first();
    await slider.focus();
    const turn = await page.locator(changes).getAttribute("data-turn");
    await watch(page, "keydown", changes, "data-tries");
    await page.keyboard.press(k % 2 ? "ArrowRight" : "ArrowLeft");
    edge.push((await took(page))[1]);
    await page.waitForFunction(([s, t]) => document.querySelector(s).dataset.turn !== t, [changes, turn]);
    await page.waitForTimeout(900);
  }
  say("contact", edge);
  await page.evaluate(() => document.activeElement.blur());
  await page.getByLabel("Point in hand").selectOption("left_knee");
  const nudge = [];
  for (let k = 0; k < 9; k++) {
    const turn = await page.locator(changes).getAttribute("data-turn");
    await watch(page, "keydown", changes, "data-tries");
    await page.keyboard.press("Shift+ArrowRight"); // never where it was before
    nudge.push((await took(page))[1]);
    await page.waitForFunction(([s, t]) => document.querySelector(s).dataset.turn !== t, [changes, turn]);
    await page.waitForTimeout(900);
  }
  say("nudge", nudge);

  const back = [];
  for (let k = 0; k < 9; k++) {
    await watch(page, "keydown", changes, "data-turn");
    await page.keyboard.press("z");
    back.push((await took(page))[1]);
    await page.waitForTimeout(400);
  }
  say("undo", back);
}

if (result) await bench();
else {
  await firstPage();
  await visits();
}
await browser.close();
