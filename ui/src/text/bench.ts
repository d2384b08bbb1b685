// The words of the bench in the language in use.
import type { Language } from "../prefs.svelte";
import { benchEn, type BenchText } from "./bench.en";

export let bench: BenchText = benchEn;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  bench = language === "de" ? (await import("./bench.de")).benchDe : benchEn;
}
