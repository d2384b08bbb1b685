// The words that come from the server, which speaks English: titles of measures,
// questions of the intake, what is missing, what failed. Another language has a
// table of them, English beside its own, with {0} {1} … where a word or a number
// stands, {0#} for digits alone; for explanations of measures, exercises, plans and findings it comes from the server itself. What the table does not have stays English and is marked as such.
import type { Language } from "../prefs.svelte";

type Table = Record<string, string>;

interface Pattern {
  of: RegExp;
  to: string;
}

let exact = new Map<string, string>();
let patterns: Pattern[] = [];
let english = true;

/** Fetches a language's table and makes it the one in use. */
export async function speakTold(wanted: Language): Promise<void> {
  english = wanted === "en";
  if (wanted !== "de") return;
  const [mine, theirs] = await Promise.all([import("./told.de.json"), fetch("/api/words/de").then((r): Promise<Table> | Table => (r.ok ? (r.json() as Promise<Table>) : {}), (): Table => ({}))]);
  use({ ...theirs, ...mine.default });
}

/** Makes a table the one in use. */
export function use(table: Table): void {
  english = false;
  exact = new Map();
  patterns = [];
  // The longer of two says more of a case.
  for (const [from, to] of Object.entries(table).sort(([a], [b]) => b.length - a.length)) {
    if (/\{\d#?\}/.test(from)) patterns.push({ of: new RegExp("^" + plain(from).replace(/[.*+?^$()|[\]\\]/g, "\\$&").replace(/\{\d(#?)\}/g, (_, digits: string) => (digits ? "([0-9]+)" : "(.+?)")) + "$", "s"), to: stopped(to) });
    else exact.set(plain(from), stopped(to));
  }
}

const stopped = (text: string): string => (text.endsWith(".") && !text.endsWith("..") ? text.slice(0, -1) : text);

/** A sentence without its capital and its full stop, by which it is looked up. */
function plain(text: string): string {
  const s = stopped(text);
  return s.charAt(0).toLocaleLowerCase("en") + s.slice(1);
}

/** Units that are the same in every language. */
const signs = new Set(["deg", "m", "cm", "mm", "s", "ms", "%", "kg", "km", "m/s", "km/h", "kN/m", "Nm/kg", "°"]);

/** A word in the place of a {0}: "left knee, front" by its two parts, a sentence as a whole, a number by its sign, with its unit or without. */
function piece(word: string): string {
  if (/^[+−-]?\d+\.\d+$/.test(word)) return word.replace(".", ",").replace("-", "−");
  const [, number, unit] = /^([+−-]?\d+(?:\.\d+)?) (\D+)$/.exec(word) ?? [];
  if (number && unit && (signs.has(unit) || exact.has(plain(unit)))) return number.replace(".", ",").replace("-", "−") + (unit === "deg" ? "°" : ` ${exact.get(plain(unit)) ?? unit}`);
  const said = look(word) ?? listed(word);
  if (said !== null) return said;
  const at = word.lastIndexOf(", ");
  const [before, after] = at > 0 ? [look(word.slice(0, at)), look(word.slice(at + 2))] : [null, null];
  if (before !== null && after !== null) return `${before}, ${after}`;
  const sided = /^(left|right) (.+)$/.exec(word);
  const place = sided && exact.get(plain(sided[2]!));
  const whole = exact.get(plain(word)) ?? (place ? `${place}, ${exact.get(sided[1]!)}` : null);
  if (whole !== null) return whole;
  // A list, as in what was changed, or of files; a name is left as it is.
  const parts = word.split(/, | and /);
  if (parts.length > 1 && parts.every((p) => /\.[a-z0-9]{2,4}$/i.test(p))) return parts.join(", ");
  return parts.length > 1 && parts.every((p) => exact.has(plain(p))) ? parts.map((p) => exact.get(plain(p))).join(", ") : word;
}

function look(text: string): string | null {
  const key = plain(text);
  let found = exact.get(key) ?? null;
  for (let i = 0; found === null && i < patterns.length; i++) {
    const m = patterns[i]!.of.exec(key);
    if (m) found = patterns[i]!.to.replace(/\{(\d)\}/g, (_, n: string) => piece(m[Number(n) + 1]!));
  }
  if (found === null) return null;
  const capital = text.charAt(0) !== text.charAt(0).toLocaleLowerCase("en");
  return (capital ? found.charAt(0).toLocaleUpperCase("de") + found.slice(1) : found) + (text.endsWith(".") ? "." : "");
}

/** What stands between semicolons, or null where the table lacks a part. */
function listed(text: string): string | null {
  const parts = text.split("; ");
  const all = parts.length > 1 ? parts.map(look) : [null];
  return all.every((s) => s !== null) ? all.join("; ") : null;
}

/** The words in the page's language, or null where its table lacks them. */
function find(text: string): string | null {
  // Sentence by sentence first, or the place of a word would take what follows it.
  const sentences = exact.has(plain(text)) ? [] : text.split(/(?<=[.!?])\s+(?=\p{Lu})/u);
  if (sentences.length > 1) {
    const all = sentences.map(find);
    if (all.every((s) => s !== null)) return all.join(" ");
  }
  // A list before the place of a word, which would take what follows the first semicolon.
  const whole = (exact.has(plain(text)) ? null : listed(text)) ?? look(text);
  if (whole !== null || sentences.length > 1) return whole;
  // A side may stand behind what it is of.
  const comma = text.lastIndexOf(", ");
  const [before, after] = comma > 0 ? [look(text.slice(0, comma)), look(text.slice(comma + 2))] : [null, null];
  if (before !== null && after !== null) return `${before}, ${after}`;
  // A clip's name may stand before what is said of it.
  const at = text.indexOf(": ");
  const said = at > 0 ? look(text.slice(at + 2)) : null;
  return said === null ? null : text.slice(0, at + 2) + said;
}

/** Angles and what is below nought with their signs, as the page writes them. */
const signed = (text: string): string => text.replace(/(\d) deg\b/g, "$1°").replace(/(?<=^|[\s(])-(?=\d)/g, "−");

/** Words of the server in the page's language; in English where there are no others. */
export const told = (text: string): string => (english ? signed(text) : !text ? text : (find(text) ?? signed(text)));

/** The language of what told gives back, for the attribute lang: nothing where it is that of the page. */
export const tongue = (text: string): "en" | undefined => (english || !text || find(text) !== null ? undefined : "en");
