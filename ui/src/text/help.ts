// The words of the help in the language in use.
import type { Language } from "../prefs.svelte";
import type { HelpText } from "./help.en";

export let help: HelpText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  help = language === "de" ? (await import("./help.de")).helpDe : (await import("./help.en")).helpEn;
}
