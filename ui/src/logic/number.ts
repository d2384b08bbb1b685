// Numbers as the reader writes them.

/** What stands between whole and broken part; set with the language. */
export const manner = { mark: "." };

/** A number as text, with a true minus sign. */
export function numberText(v: number, decimals: number): string {
  const text = Math.abs(v).toFixed(decimals);
  return (v < 0 && Number(text) !== 0 ? "−" : "") + (manner.mark === "." ? text : text.replace(".", manner.mark));
}

/** As numberText, without noughts at the end. */
export function shortNumber(v: number, decimals: number): string {
  const text = numberText(v, decimals);
  return text.includes(manner.mark) ? text.replace(/0+$/, "").replace(/\D$/, "") : text;
}

/** The number a person wrote, with either sign for the broken part; null where it is none. */
export function readNumber(text: string): number | null {
  const t = text.trim().replace(",", ".").replace("−", "-");
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(t) ? Number(t) : null;
}
