// The words of all runners together in the language in use.
import type { Language } from "../prefs.svelte";
import { togetherEn, type TogetherText } from "./together.en";

export let togetherText: TogetherText = togetherEn;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  togetherText = language === "de" ? (await import("./together.de")).togetherDe : togetherEn;
}
