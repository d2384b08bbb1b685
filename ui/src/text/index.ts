// The language in use. Texts are live bindings: the page is mounted anew when
// the language changes, so that every word is read again.
import { manner } from "../logic/number";
import type { Language } from "../prefs.svelte";
import { en, type Text } from "./en";
import { shellEn, type ShellText } from "./shell.en";
import { speakTold } from "./told";

export let t: Text = en;
export let shell: ShellText = shellEn;
export let language: Language = "en";

/** Fetches a language and makes it the one in use. */
export async function speak(wanted: Language): Promise<void> {
  if (wanted === "de") {
    const [a, b] = await Promise.all([import("./de"), import("./shell.de"), speakTold(wanted)]);
    t = a.de;
    shell = b.shellDe;
  } else {
    t = en;
    shell = shellEn;
    await speakTold(wanted);
  }
  language = wanted;
  manner.mark = wanted === "de" ? "," : ".";
  if (typeof document !== "undefined") document.documentElement.lang = wanted;
}
