// The words of the station Return in the language in use.
import type { Language } from "../prefs.svelte";
import type { ReturnText } from "./return.en";

export let back: ReturnText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  back = language === "de" ? (await import("./return.de")).returnDe : (await import("./return.en")).returnEn;
}
