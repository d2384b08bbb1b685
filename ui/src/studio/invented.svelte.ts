// The invented studio: whether this is it, and whether it can be opened beside one's own.
import { json } from "./api";

export interface LookAround {
  /** here: this studio is the invented one; empty where it is not offered. */
  state: "here" | "none" | "filling" | "open" | "failed" | "";
  done: number;
  total: number;
  url: string;
  fault: string;
}

export const invented = $state<{ now: LookAround | null }>({ now: null });

/** Asks once how it stands. */
export async function askInvented(): Promise<void> {
  invented.now = await json<LookAround>("/api/invented").catch(() => null);
}

/** Opens the invented studio, which is made first where it is not there yet, and follows how far it is. */
export async function lookAround(): Promise<void> {
  invented.now = await json<LookAround>("/api/invented", "POST");
  while (invented.now?.state === "filling") {
    await new Promise((r) => setTimeout(r, 1000));
    await askInvented();
  }
}
