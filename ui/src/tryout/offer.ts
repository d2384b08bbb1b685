// The offer of the invented runner with its words, for the first page, which fetches
// it when it has nobody to show.
import type { Component } from "svelte";
import { language } from "../text";
import { speak } from "../text/tryout";
import TryOut from "./TryOut.svelte";

export async function offer(): Promise<Component> {
  await speak(language);
  return TryOut as Component;
}
