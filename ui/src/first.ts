// The first page as text, made when the page is built: see vite.config.ts.
import { render } from "svelte/server";
import App from "./App.svelte";
import { few, give, many } from "./home/first";
import { languages, prefs, type Language } from "./prefs.svelte";
import type { RunnerRow } from "./studio/api";
import { shell, speak } from "./text";
import { told } from "./text/told";

export { languages };

const mark = (name: string) => `{{${name}}}`;

/** Takes out what stands between two texts, the first time it stands there, and puts a mark in its place. */
function cut(html: string, from: string, to: string, name: string): [rest: string, piece: string] {
  const begin = html.indexOf(from);
  const end = html.indexOf(to, begin) + to.length;
  if (begin < 0 || end < to.length) throw new Error(`the first page has no ${name}`);
  return [html.slice(0, begin) + mark(name) + html.slice(end), html.slice(begin, end)];
}

/**
 * What the first page shows before its script has come, and what the server needs to put the
 * runners into it: marks are {{name}}.
 */
export async function first(language: Language) {
  prefs.language = language;
  await speak(language);
  const w = shell.home;
  const page = (rows: RunnerRow[] | null) => {
    give(rows && { rows, next: "", tags: [] });
    return render(App).body;
  };
  const whole = "Step rate"; // said in every language
  const one: RunnerRow = { id: mark("id"), name: mark("name"), sex: "", born_year: 1, visits: 0, last_visit: null, last_visit_id: "", tags: [whole, mark("tag")] };
  let [some, row] = cut(page([one]), "<li", "</li>", "rows");
  const pages = { none: page([]), some };
  const asked = page(null);
  const begin = '<span class="tag ';
  let [tag, foreign] = ["", ""];
  [row, tag] = cut(row, begin, "</span>", "tags");
  [tag] = cut(tag, told(whole), told(whole), "tag");
  [row, foreign] = cut(row, begin, "</span>", "left");
  row = row.replace(mark("left"), "");
  [row] = cut(row, w.born(1), w.born(1), "born");
  [row] = cut(row, w.visits(0), w.visits(0), "visits");
  const any = mark("n") as never;
  return { asked, sent: { pages, row, tag, foreign, unnamed: w.unnamed, born: w.born(any), visits: [w.visits(0), w.visits(1), w.visits(any)], last: w.last(any), many, few } };
}
