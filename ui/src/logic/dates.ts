import { language } from "../text";

// English as the reader's device has it; any other language in its own manner.
const tongue = () => (language === "en" ? undefined : language);

const made = new Map<string, Intl.DateTimeFormat>();

function format(name: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = language + name;
  let f = made.get(key);
  if (!f) made.set(key, (f = new Intl.DateTimeFormat(tongue(), options)));
  return f;
}

/** An RFC 3339 moment in the reader's own manner and zone. */
export function dateText(rfc3339: string): string {
  const d = new Date(rfc3339);
  return Number.isNaN(d.getTime()) ? rfc3339 : format("moment", { dateStyle: "medium", timeStyle: "short" }).format(d);
}

/** A day, YYYY-MM-DD, in the reader's own manner. */
export function dayText(day: string): string {
  const d = new Date(`${day.slice(0, 10)}T12:00:00`);
  return Number.isNaN(d.getTime()) ? day : format("day", { dateStyle: "medium" }).format(d);
}

/** The clock time of a moment. */
export const clockText = (d: Date): string => format("clock", { timeStyle: "short" }).format(d);

/** Today's date here, as YYYY-MM-DD. */
export function today(now = new Date()): string {
  const two = (n: number) => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
