// Drives Findings and Plan in a real Chromium, from a measured visit to a plan of
// eight weeks, at the width of a desk and of a phone. By hand, with a visit that
// is measured from films and has at least one finding:
// PAGE=http://127.0.0.1:8787/ VISIT=01… MEASURED=1 PICTURES=1 node e2e/plan.e2e.mjs
//
// Without MEASURED the visit has no finding but the coach's own.
// SHOTS keeps screenshots in a folder; ONLY runs the checks whose name has the
// word in it.
import assert from "node:assert/strict";
import { asking, checks, shots } from "./checks.mjs";
import * as looked from "./sound.mjs";
import { until } from "./waiting.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8787/";
const visit = process.env.VISIT;
const measured = !!process.env.MEASURED;
const pictures = !!process.env.PICTURES;

const { check, end } = await checks({ pages: [page0] });

/** Accessibility of the page as it stands, in light and in dark, and whether it is too wide. */
async function sound(page, name) {
  // At the end, where the bar at the foot lies over nothing that can be pressed.
  await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
  await looked.sound(page, name, { shots });
}

const saved = (page) => page.getByTestId("saved").filter({ hasText: /Saved/ }).waitFor(); // not "Not saved yet"
const ask = asking(`${page0}api/`);
const api = (path, body) => ask(path, body ? "PUT" : "GET", body);

for (const [width, viewport] of [["desk", { width: 1280, height: 800 }], ["phone", { width: 390, height: 844 }]]) {
  await check(`${width}: from findings to a plan`, { viewport, hasTouch: width === "phone" }, async (page) => {
    // As it was before anything was decided.
    const before = await api(`visits/${visit}/findings`);
    await api(`visits/${visit}/findings`, { version: before.version, decisions: {}, own: [], order: [] });
    await page.goto(`${page0}visits/${visit}/findings`);
    await page.getByRole("heading", { level: 1, name: "Findings" }).waitFor();
    const first = page.locator("article[data-finding]").first();
    if (measured) {
      await first.waitFor();
      await page.waitForFunction(() => [...document.images].every((i) => i.complete));
      await sound(page, `${width}-findings`);

      // Each number answers to why; the picture leads to its frame.
      await first.getByText("Why?").first().click();
      await first.getByText("Rule", { exact: true }).first().waitFor();
      if (pictures) {
        assert.match(await first.locator("figure a").first().getAttribute("href"), /\/bench\/.*#frame=\d+/);
        assert.ok((await first.locator("figure img").first().evaluate((i) => i.naturalHeight)) > 100, "the picture is there");
      }
      // What the literature disputes stands with the finding.
      assert.ok((await first.locator(".disputed p").count()) > 0, "the disputed points stand beside it");

      // A test that would tell more is one press away, and open.
      const next = first.locator("a[href*='#test=']").first();
      const test = (await next.getAttribute("href")).split("#test=")[1];
      const called = await next.innerText();
      await next.click();
      await page.getByRole("heading", { level: 2, name: called }).waitFor();
      assert.ok(!page.url().includes("#"), "the address is that of the station");
      assert.ok(test.length > 3);
      await page.goBack();
      await first.waitFor();

      // Rejected with a reason only; decided again; accepted.
      await first.getByRole("button", { name: /^Reject/ }).click();
      assert.ok(await first.getByRole("button", { name: "Reject it" }).isDisabled());
      await first.getByLabel("Why not?").fill("The shoe hides it.");
      await first.getByRole("button", { name: "Reject it" }).click();
      await saved(page);
      await page.reload();
      await page.getByText("The shoe hides it.").waitFor();
      await page.getByRole("button", { name: "Decide again" }).first().click();
      await saved(page);
      const yes = page.locator("[data-decide] button.yes");
      for (let n = await yes.count(); n > 0; n--) {
        await yes.first().click();
        await yes.nth(n - 1).waitFor({ state: "detached" });
      }
      await saved(page);
    }

    // One of the coach's own.
    await page.getByRole("button", { name: "Add a finding of your own" }).click();
    await page.getByLabel("What you found").fill("Weak right hip");
    await page.getByLabel("What it rests on").fill("Hand test on the couch.");
    await page.getByText("right", { exact: true }).last().click();
    await page.getByLabel("What the plan should do").selectOption(["activate/glute_med", "strengthen/glute_med"]);
    await sound(page, `${width}-findings-own`);
    await page.getByRole("button", { name: "Add it" }).click();
    await page.locator(".own li").first().waitFor();
    await saved(page);
    const found = await api(`visits/${visit}/findings`);
    assert.equal(found.own.length, 1);
    assert.equal(found.own[0].aims.length, 2);
    const tagged = await api(`runners?tag=${encodeURIComponent("Weak right hip")}`);
    assert.ok(tagged.rows.length >= 1, "the visit is found by its finding");

    // The plan: made, and each week's time told.
    await page.locator("[data-next]").click();
    await page.getByRole("heading", { level: 1, name: "Plan" }).waitFor();
    // Where a plan is there from an earlier run it is brought up to date.
    await page.locator("[data-next]").filter({ hasText: /Make the plan|Bring the plan up to date|Go to Handout/ }).waitFor();
    if (!(await page.locator("[data-next]").filter({ hasText: "Go to Handout" }).count())) await page.locator("[data-next]").click();
    await page.getByRole("navigation", { name: "Weeks" }).waitFor();
    await page.locator("[data-next]").filter({ hasText: "Go to Handout" }).waitFor();
    assert.equal(await page.getByRole("navigation", { name: "Weeks" }).getByRole("button").count(), 8);
    await page.waitForFunction(() => [...document.images].filter((i) => i.getBoundingClientRect().top < innerHeight).every((i) => i.complete && i.naturalWidth > 0));
    await sound(page, `${width}-plan`);

    // A dose changed by hand, in all later weeks; it stays when the plan is made anew.
    const row = page.locator("[data-list=full] [data-exercise]").first();
    const name = await row.getAttribute("data-exercise");
    await row.getByRole("button", { name: /^Change/ }).click();
    await row.getByLabel("Sets").fill("5");
    await row.getByLabel("Sets").blur();
    await saved(page);
    await sound(page, `${width}-plan-edit`);
    let plan = await api(`visits/${visit}/plan`);
    const setsIn = (week) => plan.weeks[week].full.find((i) => i.exercise === name)?.dose.sets;
    assert.equal(setsIn(0), 5);
    await row.getByRole("button", { name: /^Done/ }).click();

    // Moved within the week by keys, and into the next week.
    const second = page.locator("[data-list=full] [data-exercise]").nth(1);
    const moved = await second.getAttribute("data-exercise");
    await second.getByRole("button", { name: /^Up:/ }).focus();
    await page.keyboard.press("Enter");
    await saved(page);
    plan = await api(`visits/${visit}/plan`);
    assert.equal(plan.weeks[0].full[0].exercise, moved);

    // Dragged onto another week's button.
    if (width === "desk") {
      const last = page.locator("[data-list=warm] [data-exercise]").first();
      const dragged = await last.getAttribute("data-exercise");
      await page.evaluate(() => scrollTo(0, 0));
      await last.locator(".title").dragTo(page.getByRole("navigation", { name: "Weeks" }).getByRole("button").nth(7));
      await saved(page);
      plan = await until("it left week 1", async () => {
        const now = await api(`visits/${visit}/plan`);
        return now.weeks[0].warm.every((i) => i.exercise !== dragged) && now;
      });
      assert.ok(plan.weeks[7].warm.some((i) => i.exercise === dragged), "it is in week 8");
    }

    // Fitted anew: what was changed by hand stays.
    const fit = page.locator("details.fit");
    await until("what it has to fit is open", async () => {
      if (!(await fit.evaluate((d) => d.open))) await fit.locator("summary").click();
      return fit.evaluate((d) => d.open);
    });
    await page.getByLabel("Minutes of a full session").fill(String(plan.ask.full_min === 24 ? 26 : 24));
    await page.locator("[data-next]").filter({ hasText: "Fit it anew" }).click();
    await page.waitForFunction(async (v) => (await (await fetch(`/api/visits/${v}/plan`)).json()).ask.full_min === Number(document.getElementById("fit-full_min").value), visit);
    plan = await api(`visits/${visit}/plan`);
    assert.equal(setsIn(0), 5, "the hand's dose is kept");

    // Why a line of the plan is there: what for, on what evidence, and what is disputed.
    await page.goto(`${page0}visits/${visit}/plan`);
    const line = page.locator("[data-list=full] [data-exercise]").first();
    await line.getByText("Why?").click();
    for (const said of ["For", "Evidence", "Felt in"]) await line.locator("dt", { hasText: said }).first().waitFor();
    assert.match(await line.locator("dd").last().innerText(), /\w/);

    // A warning sign of one region: no runs, nothing on the feet, the rest stays; cleared, all is back.
    await page.goto(`${page0}visits/${visit}/intake`);
    const sign = page.locator("[data-sign=bone_point]");
    await sign.locator("label.yes").click();
    await sign.getByText(/No programme for the whole body/).waitFor();
    await sign.getByLabel("Where").selectOption({ label: "Shin" });
    await sign.getByRole("radio", { name: "right" }).check({ force: true });
    await sign.getByText(/No programme for shin before/).waitFor();
    await saved(page);
    await sound(page, `${width}-sign`);
    await page.goto(`${page0}visits/${visit}/plan`);
    await page.getByTestId("no-run").getByText(/shin/).waitFor();
    assert.equal(await page.locator("[data-list=warm]").count(), 0, "no warm-up before runs");
    assert.ok((await page.locator("[data-list=full] [data-exercise]").count()) > 0, "the rest stays");
    await sound(page, `${width}-plan-sign`);
    await page.getByRole("button", { name: "Note a clearance" }).click();
    await page.getByLabel("Cleared by (name and profession)").fill("Dr Invented, physician");
    await page.getByRole("button", { name: "Note it and go on" }).click();
    await page.locator("[data-list=warm] [data-exercise]").first().waitFor();
    const cleared = (await api(`visits/${visit}`)).intake;
    await api(`visits/${visit}/intake`, { ...cleared, signs: {}, places: {}, cleared: null });

    const ics = await (await fetch(`${page0}api/visits/${visit}/plan.ics`)).text();
    assert.match(ics, /^BEGIN:VCALENDAR\r\n/);
    assert.ok(ics.split("BEGIN:VEVENT").length > 20);
  });
}

await check("german", { viewport: { width: 820, height: 1100 }, locale: "de-DE" }, async (page) => {
  await page.goto(`${page0}settings`);
  await page.locator('input[value="de"]').check();
  await page.waitForFunction(() => document.documentElement.lang === "de");
  await page.goto(`${page0}visits/${visit}/findings`);
  await page.getByRole("heading", { level: 1, name: "Befunde" }).waitFor();
  await page.locator(measured ? "article[data-finding]" : ".own li").first().waitFor();
  await sound(page, "tablet-findings-german");
  await page.goto(`${page0}visits/${visit}/plan`);
  await page.getByRole("navigation", { name: "Wochen" }).waitFor();
  await sound(page, "tablet-plan-german");
});

await end();
