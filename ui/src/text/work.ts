// The words of work in the background in the language in use.
import type { Language } from "../prefs.svelte";
import type { WorkText } from "./work.en";

export let work: WorkText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  work = language === "de" ? (await import("./work.de")).workDe : (await import("./work.en")).workEn;
}
