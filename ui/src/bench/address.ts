/** The frame that an address names as #frame=124, counted from 0: null where it names none, NaN where what it names is no frame. */
export function frameIn(hash: string): number | null {
  const said = new URLSearchParams(hash.replace(/^#/, "")).get("frame");
  return said === null ? null : /^\d{1,9}$/.test(said) ? Number(said) : Number.NaN;
}
