// The words of keeping data in the language in use.
import type { Language } from "../prefs.svelte";
import { keepingEn, type KeepingText } from "./keeping.en";

export let keepingText: KeepingText = keepingEn;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  keepingText = language === "de" ? (await import("./keeping.de")).keepingDe : keepingEn;
}
