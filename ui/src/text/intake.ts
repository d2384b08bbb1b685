// The words of the station Intake in the language in use.
import type { Language } from "../prefs.svelte";
import type { IntakeText } from "./intake.en";

export let intake: IntakeText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  intake = language === "de" ? (await import("./intake.de")).intakeDe : (await import("./intake.en")).intakeEn;
}
