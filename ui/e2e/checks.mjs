// What scripts of checks have in common: a browser, a fresh page for each check, what
// the page complained of or asked of other hosts, and a word on how it went.
import assert from "node:assert/strict";
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { patience, patient } from "./waiting.mjs";

/** Folder for pictures, if any. */
export const shots = process.env.SHOTS;
/** Part of the names of the checks that are wanted; empty for all. */
export const only = process.env.ONLY ?? "";
if (shots) await mkdir(shots, { recursive: true });

/** Asks a server, below an address, and takes success alone: path, method and what is sent. */
export const asking = (base) => async (path, method = "GET", body) => {
  const res = await fetch(base + path, body === undefined ? { method } : { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  const text = await res.text();
  assert.ok(res.ok, `${method} ${path}: ${res.status} ${text}`);
  return JSON.parse(text);
};

/** A browser that asks nothing of the world. */
export const launch = (...more) =>
  chromium.launch({
    timeout: patience,
    executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync", ...more],
  });

/**
 * Checks of the pages at these addresses. context is what each check's page has unless
 * it says otherwise; quiet is what the browser may say at any time, because it speaks
 * of the script and not of the page.
 */
export async function checks({ pages, context: usual = {}, args = [], quiet = /^$/ }) {
  const browser = await launch(...args);
  const origins = new Set(pages.filter(Boolean).map((u) => new URL(u).origin));
  const strangers = [];
  let failed = 0;

  /** Runs one check in a fresh page; expected is what the browser may complain of in it. */
  async function check(name, options, body, expected = /^$/) {
    if (!name.includes(only)) return;
    const context = patient(await browser.newContext({ locale: "en-GB", ...usual, ...options }));
    const page = await context.newPage();
    const complaints = [];
    page.on("console", (m) => ["error", "warning"].includes(m.type()) && !quiet.test(m.text()) && complaints.push(m.text()));
    page.on("pageerror", (e) => complaints.push(e.message));
    page.on("request", (r) => {
      const u = new URL(r.url());
      if (u.protocol !== "blob:" && u.protocol !== "data:" && !origins.has(u.origin)) strangers.push(r.url());
    });
    const began = performance.now();
    try {
      await body(page, complaints, context);
      assert.deepEqual(complaints.filter((c) => !expected.test(c)), [], "the browser complained");
      console.log(`ok    ${name} (${Math.round(performance.now() - began)} ms)`);
    } catch (err) {
      failed++;
      console.log(`FAIL  ${name}\n${err.stack}`);
      if (shots) await page.screenshot({ path: join(shots, `fail-${failed}.png`) }).catch(() => {});
    }
    await context.close();
  }

  /** Closes the browser, says how it went and ends the script. */
  async function end() {
    await browser.close();
    if (strangers.length) {
      failed++;
      console.log(`FAIL  requests to elsewhere:\n${[...new Set(strangers)].join("\n")}`);
    } else console.log("ok    no request to anywhere else");
    console.log(failed ? `${failed} failed` : "all passed");
    process.exit(failed ? 1 : 0);
  }

  return { browser, check, end };
}
