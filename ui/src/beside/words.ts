// Lengths of what is drawn, in the reader's units.
import type { Units } from "../prefs.svelte";
import { beside } from "../text/beside";

/** A length in the reader's units where the scale is known, else in pixels. */
export function lengthText(px: number, m: number | null, sd: number | null, units: Units): string {
  if (m === null) return beside.draw.px(px);
  return units === "us" ? beside.draw.inch(m, sd) : beside.draw.cm(m, sd);
}
