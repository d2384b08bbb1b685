// Places on the picture of a clip, in pixels of the file.

export interface Place {
  x: number;
  y: number;
}

/** How large a picture is shown in a box so that all of it is seen, and where. */
export function fit(width: number, height: number, boxWidth: number, boxHeight: number): { scale: number; left: number; top: number } {
  const scale = Math.min(boxWidth / Math.max(1, width), boxHeight / Math.max(1, height));
  return { scale, left: (boxWidth - width * scale) / 2, top: (boxHeight - height * scale) / 2 };
}

/** Keeps a place within the picture, to a hundredth of a pixel. */
export function within(p: Place, width: number, height: number): Place {
  const hold = (v: number, most: number) => Math.round(Math.min(most, Math.max(0, v)) * 100) / 100;
  return { x: hold(p.x, width), y: hold(p.y, height) };
}

export const apart = (a: Place, b: Place): number => Math.hypot(a.x - b.x, a.y - b.y);

/** The frame whose time is nearest. */
export function frameAt(times: readonly number[], timeS: number): number {
  let best = 0;
  for (let i = 1; i < times.length; i++) if (Math.abs(times[i]! - timeS) < Math.abs(times[best]! - timeS)) best = i;
  return best;
}

/**
 * When the seam is to be expected next: by the rhythm of the passes marked so
 * far, or by belt length and speed where only one is; null where neither tells.
 */
export function nextPass(seamS: readonly number[], lengthM: number | null, speedMPS: number | null): number | null {
  const last = seamS.at(-1);
  if (last === undefined) return null;
  const first = seamS[0]!;
  if (seamS.length > 1) return last + (last - first) / (seamS.length - 1);
  return lengthM && speedMPS ? last + lengthM / speedMPS : null;
}
