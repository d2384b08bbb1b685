// The words of the report of a visit in the language in use.
import type { Language } from "../prefs.svelte";
import { reportEn, type ReportText } from "./report.en";

/** The words in a language. */
export async function reportWords(language: Language): Promise<ReportText> {
  return language === "de" ? (await import("./report.de")).reportDe : reportEn;
}
