// Which pages' help was open once on this device: it opens by itself the first time
// alone. Kept in this browser.
import type { HelpName } from "./drawings";

const key = "gaitwright.helped";

function kept(): string[] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(key) ?? "[]");
    return Array.isArray(found) ? found.filter((x) => typeof x === "string").slice(0, 40) : [];
  } catch {
    return [];
  }
}

/** Whether the page is here for the first time; it is not any more afterwards. */
export function firstTime(name: HelpName): boolean {
  const seen = kept();
  if (seen.includes(name)) return false;
  try {
    localStorage.setItem(key, JSON.stringify([...seen, name]));
    return true;
  } catch {
    return false; // a browser that keeps nothing would open it each time
  }
}
