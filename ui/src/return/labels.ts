// Which days below a trend have room for their date.

/** Places along the axis, px, in order, and how wide the label of each is; the first begins at its place, the last ends there, the others lie about it. The first and the last come before those between. */
export function labelled(at: readonly number[], wide: readonly number[], gap: number): boolean[] {
  const n = at.length;
  const from = at.map((x, i) => (i === 0 ? x : x - (i === n - 1 ? wide[i]! : wide[i]! / 2)));
  const to = from.map((x, i) => x + wide[i]!);
  const out = at.map(() => false);
  if (!n) return out;
  out[0] = true;
  let end = to[0]!;
  let wall = Infinity;
  if (n > 1 && from[n - 1]! - end >= gap) {
    out[n - 1] = true;
    wall = from[n - 1]!;
  }
  for (let i = 1; i < n - 1; i++) {
    if (from[i]! - end < gap || wall - to[i]! < gap) continue;
    out[i] = true;
    end = to[i]!;
  }
  return out;
}
