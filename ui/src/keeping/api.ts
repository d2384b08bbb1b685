// How the studio keeps its data and gives it up, as the server tells it.
import { numberText } from "../logic/number";
import { ask, json } from "../studio/api";

export interface Due {
  id: string;
  name: string;
  last_visit: string | null;
  years: number;
}

export interface Keeping {
  folder: string;
  last_backup: string | null;
  retention_years: number;
  due: Due[];
  empty: boolean;
}

export interface Backup {
  studio: string;
  made: string;
  program: string;
  bytes: number;
  runners: number;
  files: number;
  missing: number;
  kept: string[];
}

export interface Erase {
  name: string;
  visits: number;
  films: number;
  results: number;
  bytes: number;
  loose: number;
  shared: boolean;
}

export interface Erased {
  records: number;
  files: number;
  bytes: number;
  searched_files: number;
  searched_bytes: number;
  left: string[];
}

export interface TrailLine {
  at: string;
  who: string;
  what: string;
  saw: boolean;
  runner_id: string;
  undone_at: string | null;
  undone_by: string;
}

const id = encodeURIComponent;

export const keeping = () => json<Keeping>("/api/keeping");
export const putRetention = (years: number) => json<Keeping>("/api/keeping", "PUT", { retention_years: years });
export const keepOn = (runner: string) => json<Keeping>(`/api/runners/${id(runner)}/keep`, "POST", {});
export const erasePreview = (runner: string) => json<Erase>(`/api/runners/${id(runner)}/erase`);
export const eraseRunner = (runner: string, name: string) => json<Erased>(`/api/runners/${id(runner)}/erase`, "POST", { name });
export const trail = (runner = "") => json<TrailLine[]>(runner ? `/api/runners/${id(runner)}/trail` : "/api/trail");
export const everything = (runner: string) => `/api/runners/${id(runner)}/everything.zip`;
export const askBackup = (passphrase: string) => json<{ url: string }>("/api/backups", "POST", { passphrase });

/** Sends a backup to be checked, or put back. */
export async function sendBackup(what: "verify" | "restore", file: File, passphrase: string): Promise<Backup> {
  const r = await ask(`/api/backups/${what}`, {
    method: "POST",
    body: file,
    headers: { "Content-Type": "application/age-encrypted", "Gaitwright-Passphrase": encodeURIComponent(passphrase) },
  });
  return (await r.json()) as Backup;
}

/** Lets the browser save a file. */
export function save(url: string): void {
  const a = document.createElement("a");
  a.href = url;
  a.download = "";
  a.click();
}

export const wordsOf = (err: unknown): string => (err instanceof Error ? err.message : String(err));

/** A size in the reader's own manner. */
export function sizeText(bytes: number): string {
  const [unit, per] = bytes < 1e6 ? ["kB", 1e3] : bytes < 1e9 ? ["MB", 1e6] : ["GB", 1e9];
  return `${numberText(bytes / (per as number), bytes < 1e6 ? 0 : 1)} ${unit}`;
}
