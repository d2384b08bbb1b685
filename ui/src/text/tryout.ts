// The words of trying the program on an invented runner, in the language in use.
import type { Language } from "../prefs.svelte";
import type { TryoutText } from "./tryout.en";

export let tryout: TryoutText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  tryout = language === "de" ? (await import("./tryout.de")).tryoutDe : (await import("./tryout.en")).tryoutEn;
}
