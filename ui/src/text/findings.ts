// The words of the station Findings in the language in use.
import type { Language } from "../prefs.svelte";
import type { FindingsText } from "./findings.en";

export let findings: FindingsText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  findings = language === "de" ? (await import("./findings.de")).findingsDe : (await import("./findings.en")).findingsEn;
}
