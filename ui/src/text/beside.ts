// The words of the page of two strides in the language in use.
import type { Language } from "../prefs.svelte";
import type { BesideText } from "./beside.en";

export let beside: BesideText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  beside = language === "de" ? (await import("./beside.de")).besideDe : (await import("./beside.en")).besideEn;
}
