// The words of step rate and of the station Handout in the language in use.
import type { Language } from "../prefs.svelte";
import type { HomeworkText } from "./homework.en";

export let homework: HomeworkText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  homework = language === "de" ? (await import("./homework.de")).homeworkDe : (await import("./homework.en")).homeworkEn;
}
