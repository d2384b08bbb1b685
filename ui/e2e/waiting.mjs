// Waiting for states, not for times: a busy machine has all the time it needs.

/** The longest that anything is waited for, ms. */
export const patience = 180000;

/** How many times slower than this machine pages have to run, and how late answers come, ms; to look for what only a slow machine shows. */
const slow = Number(process.env.SLOW ?? 1);
const late = Number(process.env.LATE ?? 0);

/** Gives a browser's context the patience that all scripts have, and its pages the machine that is asked for. */
export function patient(context) {
  context.setDefaultTimeout(patience);
  if (slow > 1 || late > 0) {
    const all = [];
    let offline = false;
    // Where a page is closed already, nothing is to be done.
    const network = (devtools) => devtools.send("Network.emulateNetworkConditions", { offline, latency: late, downloadThroughput: -1, uploadThroughput: -1 }).catch(() => {});
    context.on("page", async (page) => {
      const devtools = await context.newCDPSession(page).catch(() => null);
      if (!devtools) return;
      all.push(devtools);
      await devtools.send("Emulation.setCPUThrottlingRate", { rate: slow }).catch(() => {});
      if (late > 0) await network(devtools);
    });
    // Of two who say what the network is like, the last is heeded.
    if (late > 0)
      context.setOffline = async (yes) => {
        offline = yes;
        await Promise.all(all.map(network));
      };
  }
  return context;
}

/** Asks again until what is asked for is so, and returns what it then was. */
export async function until(what, ask, wait = 50) {
  for (const end = Date.now() + patience; ; await new Promise((done) => setTimeout(done, wait))) {
    const got = await ask();
    if (got) return got;
    if (Date.now() > end) throw new Error(`waited in vain until ${what}`);
  }
}

/** No animation of the page is running. */
export const still = (page) => page.waitForFunction(() => document.getAnimations().every((a) => a.playState !== "running" || a.effect.getComputedTiming().endTime === Infinity));

/** The screen was drawn anew so many times: whatever went on would have gone on. */
export const pictures = (page, n) =>
  page.evaluate((n) => new Promise((done) => requestAnimationFrame(function next() {
    if (--n > 0) requestAnimationFrame(next);
    else done();
  })), n);

/** An element has its place: it is where it was two pictures of the screen before, thrice. */
export const placed = (page, selector, ...attributes) =>
  page.evaluate(
    async ([selector, attributes]) => {
      const place = () => {
        const e = document.querySelector(selector);
        const { x, y, width, height } = e?.getBoundingClientRect() ?? {};
        return JSON.stringify([x, y, width, height, scrollY, ...attributes.map((a) => e?.getAttribute(a))]);
      };
      const picture = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
      for (let was = "", same = 0; same < 3; await picture()) {
        const now = place();
        same = now === was ? same + 1 : 0;
        was = now;
      }
    },
    [selector, attributes],
  );
