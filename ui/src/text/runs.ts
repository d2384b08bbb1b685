// The words of the runs of the watch in the language in use.
import type { Language } from "../prefs.svelte";
import type { RunsText } from "./runs.en";

export let runs: RunsText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  runs = language === "de" ? (await import("./runs.de")).runsDe : (await import("./runs.en")).runsEn;
}
