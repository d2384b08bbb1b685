// The door for other devices: a tablet signs in, is signed out under a page that is open,
// and goes on after signing in again. PAGE is that door's address, OWN that of the
// machine's own, PASSPHRASE what lets a device in, CHROMIUM the browser, SHOTS a folder
// for pictures.
import assert from "node:assert/strict";
import { join } from "node:path";
import { asking, checks, shots } from "./checks.mjs";
import { flawless } from "./sound.mjs";
import { until } from "./waiting.mjs";

const { PAGE, OWN, PASSPHRASE } = process.env;
const base = PAGE.replace(/\/$/, "");
const ask = asking(OWN.replace(/\/$/, ""));
const { check, end } = await checks({ pages: [PAGE], context: { viewport: { width: 820, height: 1180 }, ignoreHTTPSErrors: true } });

/** Signs in on the page that is shown. */
async function signIn(page) {
  await page.getByLabel("Passphrase").fill(PASSPHRASE);
  await page.getByRole("button", { name: "Sign in" }).click();
}

for (const [name, options] of Object.entries({
  tablet: {},
  phone: { viewport: { width: 390, height: 844 }, colorScheme: "dark" },
}))
  await check(
    `a session that ends under an open page is told on a ${name}, and the page goes on with the next`,
    options,
    async (page, _, context) => {
      const runner = await ask("/api/runners", "POST", { name: "Ada Invented" });
      const visit = await ask(`/api/runners/${runner.id}/visits`, "POST", {});
      const heard = page.waitForRequest((r) => r.url().endsWith("/api/events"));
      await page.goto(`${base}/visits/${visit.id}/intake`);
      await signIn(page);
      await page.getByRole("heading", { name: "Intake", level: 1 }).waitFor();
      await heard;
      const shoes = page.getByLabel("Shoes today");
      await shoes.waitFor();

      // Another tab of the same device signs it out.
      const other = await context.newPage();
      await other.goto(`${base}/settings`);
      await other.getByText("This device is signed in.").waitFor();
      if (shots) await other.screenshot({ path: join(shots, `settings-${name}.png`), fullPage: true });
      await other.getByRole("button", { name: "Sign out" }).click();
      await other.getByLabel("Passphrase").waitFor();

      const notice = page.getByRole("status").filter({ hasText: "not signed in any more" });
      await notice.waitFor();
      await flawless(page, "a page signed out");
      if (shots) await page.screenshot({ path: join(shots, `signed-out-${name}.png`) });
      await shoes.fill("blue, invented");
      await shoes.blur();
      // What is done meanwhile elsewhere is not told to it.
      await ask(`/api/runners/${runner.id}`, "PUT", { ...runner, visits: undefined, consent_text: undefined, name: "Zoë Invented" });
      assert.equal((await page.locator("header").first().textContent()).includes("Zoë"), false);

      const opened = context.waitForEvent("page");
      await notice.getByRole("link", { name: "Sign in in another tab" }).click();
      const third = await opened;
      await signIn(third);
      await notice.waitFor({ state: "hidden" });
      await page.locator("header", { hasText: "Zoë Invented" }).first().waitFor();
      await until("what was entered meanwhile is saved", async () => (await ask(`/api/visits/${visit.id}`)).intake?.shoes === "blue, invented");
    },
    /status of 401 /,
  );

await end();
