// The words of the station Exam in the language in use.
import type { Language } from "../prefs.svelte";
import type { ExamText } from "./exam.en";

export let exam: ExamText;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  exam = language === "de" ? (await import("./exam.de")).examDe : (await import("./exam.en")).examEn;
}
