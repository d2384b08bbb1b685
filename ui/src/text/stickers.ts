// The words of the stickers in the language in use.
import type { Language } from "../prefs.svelte";
import { stickersEn, type StickerText } from "./stickers.en";

export let stickerText: StickerText = stickersEn;

/** Fetches the words in a language. */
export async function speak(language: Language): Promise<void> {
  stickerText = language === "de" ? (await import("./stickers.de")).stickersDe : stickersEn;
}
