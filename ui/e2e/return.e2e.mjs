// Drives the station Return in a real Chromium, at the width of a desk and of a
// phone: what really changed and what did not, the step rate, blocks decided and
// taken back, another visit to compare with, table, curves and course. By hand, with
// the newest visit of the returning runner of the demonstration:
// PAGE=http://127.0.0.1:8787/ VISIT=01… node e2e/return.e2e.mjs
//
// SHOTS keeps screenshots in a folder; ONLY runs the checks whose name has the
// word in it.
import assert from "node:assert/strict";
import { asking, checks, shots } from "./checks.mjs";
import * as looked from "./sound.mjs";

const page0 = process.env.PAGE ?? "http://127.0.0.1:8787/";
const visit = process.env.VISIT;

const { check, end } = await checks({ pages: [page0] });

/** Accessibility of the page as it stands, in light and in dark, and whether it is too wide. */
async function sound(page, name) {
  // At the end, where the bar at the foot lies over nothing that can be pressed.
  await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
  await looked.sound(page, name, { shots });
}

const saved = (page) => page.getByTestId("saved").filter({ hasText: /Saved/ }).waitFor(); // not "Not saved yet"
const ask = asking(`${page0}api/`);
const api = (path, method = "GET", body = method === "GET" ? undefined : {}) => ask(path, method, body);
const text = (v, decimals) => `${v < 0 && Number(v.toFixed(decimals)) !== 0 ? "−" : ""}${Math.abs(v).toFixed(decimals)}`;

for (const [width, viewport] of [["desk", { width: 1400, height: 900 }], ["tablet", { width: 820, height: 1180 }], ["phone", { width: 390, height: 844 }]]) {
  await check(`${width}: what changed, and how to go on`, { viewport, hasTouch: width === "phone" }, async (page) => {
    const told = await api(`visits/${visit}/return`);
    await page.goto(`${page0}visits/${visit}/return`);
    await page.getByRole("heading", { level: 1, name: "Return" }).waitFor();
    await page.getByRole("heading", { name: "What the plan was meant to change" }).waitFor();

    // On top, what the plan was for: changed and not changed, with the numbers told.
    const head = page.locator("section.head");
    const changed = head.locator("ul.changed");
    const same = head.locator("ul.same");
    for (const [list, verdict] of [[changed, "changed"], [same, "no real change"]]) {
      const aims = told.changes.filter((c) => c.aim && c.verdict === verdict);
      assert.ok(aims.length > 0, `no aim is ${verdict}`);
      const said = (await list.innerText()).replaceAll("\u202f", " ");
      for (const c of aims) {
        assert.ok(said.includes(c.title), `${c.title} is not under ${verdict}`);
        assert.ok(said.includes(`${text(c.before, c.decimals)} → ${text(c.after, c.decimals)}`), `${c.title}: its values are not shown`);
        assert.ok(said.includes(`counts from ${text(c.mdc95, c.decimals)}`), `${c.title}: what counts is not shown`);
      }
    }
    assert.match(await changed.innerText(), /Step rate/);
    assert.match(await changed.innerText(), /Overstride/);
    assert.match(await same.innerText(), /Pelvic drop/);
    assert.ok((await page.getByTestId("looked").innerText()).includes(`${told.looked.compared} measures and tests were looked at and ${told.looked.called} called changed`));
    await head.getByText(/^Changed beside that/).click();
    assert.equal(await head.locator("ul.small .chance").count(), told.changes.filter((c) => !c.aim && c.verdict === "changed" && !c.stands).length);

    // The step rate: quicker at the same speed, and kept without the click.
    const steps = page.getByTestId("steps");
    await steps.getByText("Quicker steps at the same speed").waitFor();
    assert.equal(await steps.locator("[data-kept]").getAttribute("data-kept"), told.steps.kept);
    await steps.getByTestId("no-runs").waitFor();
    assert.match(await page.getByTestId("work").innerText(), /weeks came back/);

    await sound(page, `${width}-return`);

    // A block is decided with its reason, stays, and is taken back.
    const block = page.locator("[data-block=strengthen]");
    const proposed = told.blocks.find((b) => b.block === "strengthen");
    assert.equal(await block.getByTestId("proposed").innerText(), proposed.do);
    await block.locator("label", { hasText: "hold" }).click();
    await saved(page);
    await block.getByRole("textbox").fill("One more week first.");
    await block.getByRole("textbox").blur();
    await page.waitForFunction(async (v) => (await (await fetch(`/api/visits/${v}/return`)).json()).blocks.find((b) => b.block === "strengthen").note === "One more week first.", visit);
    await page.reload();
    await block.locator("input[type=radio]:checked").waitFor();
    assert.equal(await block.getByRole("textbox").inputValue(), "One more week first.");
    let now = await api(`visits/${visit}/return`);
    assert.equal(now.blocks.find((b) => b.block === "strengthen").decided, "hold");
    while ((await api(`visits/${visit}/return`)).version > 0) now = await api(`visits/${visit}/undo`, "POST");
    await page.waitForFunction(() => !document.querySelector("[data-block=strengthen] input:checked"));

    // The table shows what is asked for.
    const rows = page.locator("section.table tr.row");
    assert.equal(await rows.count(), told.changes.filter((c) => c.verdict === "changed").length);
    await page.locator("section.table label", { hasText: "all (" }).click();
    assert.equal(await rows.count(), told.changes.length);
    await page.locator("section.table label", { hasText: "cannot tell (" }).click();
    assert.equal(await rows.count(), told.changes.filter((c) => c.verdict === "cannot tell").length);

    // Curves and course, each of another measure.
    const curves = page.getByTestId("curves");
    const pick = curves.getByLabel("Curve");
    const names = await pick.locator("option").allInnerTexts();
    await pick.selectOption({ index: 1 });
    await curves.getByRole("img", { name: new RegExp(names[1].replace(/[()]/g, ".")) }).first().waitFor();
    assert.equal(await curves.locator("path.mean").count(), 2 * told.curves.filter((c) => c.title === names[1]).length);
    const trends = page.getByTestId("trends");
    const rate = told.trends.find((x) => x.name === "step_rate");
    await trends.getByLabel("Measure").selectOption("step_rate/both");
    assert.equal(await trends.locator("circle").count(), rate.points.filter((p) => p.value !== null).length);
    await trends.getByText("a trend").waitFor();
    assert.ok((await trends.locator("rect.phase").count()) >= 4, "the plan lies beneath");
    // Each part of it has its name: in its bar, beside it, or below the figure with its days.
    assert.equal((await trends.locator("svg .name").count()) + (await trends.locator(".names li").count()), await trends.locator("rect.phase").count(), "a part of the plan has no name");
    // What may be chance is said in words, and where what counts comes from; no table is cut off.
    assert.equal(await page.getByTestId("chance").count(), told.changes.some((c) => c.verdict === "changed" && !c.stands) ? 1 : 0);
    await page.locator("section.table label", { hasText: "all (" }).click();
    await page.locator("section.table").getByText("Where “counts from” comes from").click();
    assert.ok((await page.locator("section.table details li").count()) > 0, "no source is told");
    const cut = await page.locator(".wide").evaluateAll((all) => all.map((e) => [e.getAttribute("aria-label"), e.scrollWidth - e.clientWidth]).filter(([, px]) => px > 1));
    if (width !== "desk") assert.deepEqual(cut, [], "a table is cut off");

    // Another visit to compare with has no plan, so nothing is to be decided.
    await page.getByLabel("Compared with").selectOption(told.visits[1].id);
    await page.locator("[data-block]").first().waitFor({ state: "detached" });
    const other = await api(`visits/${visit}/return?against=${told.visits[1].id}`);
    assert.equal(other.against, told.visits[1].id);
    await page.getByTestId("looked").filter({ hasText: `${other.looked.compared} measures` }).waitFor();

    // The first visit has nothing before it.
    await page.goto(`${page0}visits/${told.visits[0].id}/return`);
    await page.getByTestId("none").waitFor();
    await sound(page, `${width}-return-first`);
  });
}

await check("german", { viewport: { width: 820, height: 1100 }, locale: "de-DE" }, async (page) => {
  await page.goto(`${page0}settings`);
  await page.locator('input[value="de"]').check();
  await page.waitForFunction(() => document.documentElement.lang === "de");
  await page.goto(`${page0}visits/${visit}/return`);
  await page.getByRole("heading", { level: 1, name: "Rückkehr" }).waitFor();
  await page.getByRole("heading", { name: "Was der Plan ändern sollte" }).waitFor();
  await sound(page, "tablet-return-german");
});

await check("a film is marked as with the click", { viewport: { width: 1400, height: 900 } }, async (page) => {
  await page.goto(`${page0}visits/${visit}/film`);
  const card = page.getByTestId("clip").first();
  await card.locator("summary").click();
  const was = (await api(`visits/${visit}`)).clips[0];
  assert.equal(was.facts.click, "without");
  await card.locator("fieldset", { hasText: "Did a click run" }).locator("label", { hasText: "Yes" }).click();
  await page.waitForFunction(async (c) => (await (await fetch(`/api/clips/${c}`)).json()).facts.click === "with", was.id);
  const v = await api(`visits/${visit}`);
  assert.ok(!v.results.some((r) => r.current && r.stale), "a measurement does not rest on it");
  await api(`visits/${visit}/undo`, "POST");
  assert.equal((await api(`visits/${visit}`)).clips[0].facts.click, "without");
});

await end();
