// How this device likes the program: kept in this browser alone.
const key = "gaitwright.device";

export type Units = "metric" | "us";
export const languages = ["en", "de"] as const;
export type Language = (typeof languages)[number];
export type Appearance = "auto" | "light" | "dark";

export interface Prefs {
  units: Units;
  language: Language;
  appearance: Appearance;
  /** Who writes, as the journal names them; empty for nobody in particular. */
  who: string;
}

const choices: { [K in keyof Prefs]: readonly Prefs[K][] | null } = {
  units: ["metric", "us"],
  language: languages,
  appearance: ["auto", "light", "dark"],
  who: null,
};

function usual(): Prefs {
  const tongue = typeof navigator === "undefined" ? "en" : navigator.language;
  return { units: /^en-(US|LR)$/i.test(tongue) ? "us" : "metric", language: /^de\b/i.test(tongue) ? "de" : "en", appearance: "auto", who: "" };
}

/** What was kept, with the usual in place of anything unknown. */
export function prefsFrom(text: string | null): Prefs {
  const out = usual();
  let found: Record<string, unknown> = {};
  try {
    found = (JSON.parse(text ?? "{}") ?? {}) as Record<string, unknown>;
  } catch {
    // Nothing that can be read was kept.
  }
  for (const name of Object.keys(choices) as (keyof Prefs)[]) {
    const value = found[name];
    const allowed = choices[name] as readonly string[] | null;
    if (typeof value === "string" && (allowed ? allowed.includes(value) : value.length <= 80)) (out[name] as string) = value;
  }
  return out;
}

function kept(): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

export const prefs = $state<Prefs>(prefsFrom(kept()));

/** Changes a choice and keeps it. */
export function choose<K extends keyof Prefs>(name: K, value: Prefs[K]): void {
  prefs[name] = value;
  try {
    localStorage.setItem(key, JSON.stringify(prefs));
  } catch {
    // A browser that keeps nothing still works for the day.
  }
  if (name === "appearance") dress();
  tellServer();
}

/** Keeps the chosen language where the server sees it, which sends the first page in it. */
export function tellServer(): void {
  if (typeof document !== "undefined") document.cookie = `language=${prefs.language}; path=/; max-age=31536000; samesite=strict`;
}

/** The look the page has now. */
export const shown = $state({ look: "light" });

const dark = typeof matchMedia === "undefined" ? null : matchMedia("(prefers-color-scheme: dark)");

/** Puts the page in light or dark, as chosen or as the device has it. */
export function dress(): void {
  const look = prefs.appearance === "auto" ? (dark?.matches ? "dark" : "light") : prefs.appearance;
  shown.look = look;
  document.documentElement.dataset.look = look;
  document.querySelector('meta[name="color-scheme"]')?.setAttribute("content", look);
}

dark?.addEventListener("change", dress);
