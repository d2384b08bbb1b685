// The words of the station Film in the language in use.
import type { Language } from "../prefs.svelte";
import type { FilmText } from "./film.en";

export let film: FilmText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  film = language === "de" ? (await import("./film.de")).filmDe : (await import("./film.en")).filmEn;
}
