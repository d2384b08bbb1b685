// The words of the station Plan in the language in use.
import type { Language } from "../prefs.svelte";
import type { PlanText } from "./plan.en";

export let plan: PlanText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  plan = language === "de" ? (await import("./plan.de")).planDe : (await import("./plan.en")).planEn;
}
