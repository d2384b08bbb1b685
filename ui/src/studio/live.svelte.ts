// News from the server as it happens. One connection serves the whole page; it
// connects again by itself, and what may have been missed meanwhile is said by
// "again".
import type { Job } from "./api";

interface News {
  job: Job;
  visit: { id: string; version: number; who: string };
  result: { id: string; visit_id: string };
  runner: { id: string; version: number };
  /** The run files that wait in the watched folder are others. */
  runs: object;
  again: null;
}

type Kind = keyof News;
const kinds: readonly Exclude<Kind, "again">[] = ["job", "visit", "result", "runner", "runs"];

const listeners = new Map<Kind, Set<(news: never) => void>>();
let source: EventSource | null = null;
let lost = false;
let retry: ReturnType<typeof setTimeout> | undefined;

/** Whether news come in, and whether they do not because this device is not signed in any more. */
export const live = $state({ connected: true, signedOut: false });

/** Learns why there is no stream. */
async function askWhy(): Promise<void> {
  try {
    live.signedOut = (await fetch("/api/lan", { cache: "no-store" })).status === 401;
  } catch {
    // There is no connection at all.
  }
}

function tell<K extends Kind>(kind: K, news: News[K]): void {
  for (const fn of listeners.get(kind) ?? []) (fn as (n: News[K]) => void)(news);
}

function connect(): void {
  clearTimeout(retry);
  source = new EventSource("/api/events");
  source.onopen = () => {
    live.connected = true;
    live.signedOut = false;
    if (lost) tell("again", null);
    lost = false;
  };
  source.onerror = () => {
    lost = true;
    live.connected = false;
    // A browser gives up where the answer was no stream; ask again later.
    if (source?.readyState !== EventSource.CLOSED) return;
    void askWhy();
    retry = setTimeout(connect, 5000);
  };
  for (const kind of kinds)
    source.addEventListener(kind, (e) => {
      try {
        tell(kind, JSON.parse((e as MessageEvent<string>).data));
      } catch {
        // Not one of ours.
      }
    });
}

/** Calls fn at each piece of news of a kind, until the returned function is called. */
export function hear<K extends Kind>(kind: K, fn: (news: News[K]) => void): () => void {
  const set = listeners.get(kind) ?? new Set();
  listeners.set(kind, set.add(fn as (n: never) => void));
  if (!source) connect();
  return () => {
    set.delete(fn as (n: never) => void);
    if ([...listeners.values()].every((s) => s.size === 0)) {
      clearTimeout(retry);
      source?.close();
      source = null;
      lost = false;
      live.connected = true;
      live.signedOut = false;
    }
  };
}
