// The first page as text, made when the page is built: see vite.config.ts.
import { render } from "svelte/server";
import App from "./App.svelte";
import { firstRunners } from "./home/first";
import { languages, prefs, type Language } from "./prefs.svelte";
import { speak } from "./text";

export { languages };

/** What the first page shows before anything came from the server, and the address of what it asks for first. */
export async function first(language: Language): Promise<{ page: string; asked: string }> {
  prefs.language = language;
  await speak(language);
  return { page: render(App).body, asked: firstRunners };
}
