// The words of the station Measure in the language in use.
import type { Language } from "../prefs.svelte";
import type { MeasureText } from "./measure.en";

export let measure: MeasureText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  measure = language === "de" ? (await import("./measure.de")).measureDe : (await import("./measure.en")).measureEn;
}
