import type { RunnerPage } from "../studio/api";

/** How many runners are asked for at a time. */
export const many = 30;

/** How many of them the first page shows until it is painted: a screen of a desk has no more. */
export const few = 10;

let given: RunnerPage | null = null;

/** Gives the runners with which the page is made as text. */
export function give(runners: RunnerPage | null): void {
  given = runners;
}

/** The runners that came with the first page, once: later ones are asked for. Null where none came. */
export function sentRunners(): RunnerPage | null {
  if (typeof document === "undefined") return given;
  const sent = document.getElementById("sent");
  sent?.remove();
  return sent && (JSON.parse(sent.textContent ?? "null") as RunnerPage | null);
}
