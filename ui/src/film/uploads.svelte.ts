// Files on their way to the server, in parts. A broken connection stops nothing
// for good: the server is asked how much it has, and the rest follows. The files
// are kept by the browser until they have arrived, so that loading the page anew
// goes on where it was.
import { ask, Refusal, type StudioClip } from "../studio/api";
import { part, pauseAfter } from "./parts";

export type UploadState = "waiting" | "sending" | "broken" | "finishing" | "failed" | "needs file";

export interface Upload {
  key: string;
  visit: string;
  /** The server's name for it; empty before it has one. */
  id: string;
  name: string;
  size: number;
  sent: number;
  state: UploadState;
  trouble: string;
}

interface Kept {
  key: string;
  visit: string;
  id: string;
  name: string;
  size: number;
  file: Blob | null;
}

export const uploads = $state<Upload[]>([]);

const files = new Map<string, Blob>();
const listening = new Set<(visit: string, clip: StudioClip) => void>();
let turning = false;
let wake: (() => void) | null = null;
const stopping = new Map<string, AbortController>();

/** Says whom to tell of clips that have arrived, beside others. What it returns ends that. */
export function onArrival(fn: (visit: string, clip: StudioClip) => void): () => void {
  listening.add(fn);
  return () => void listening.delete(fn);
}

if (typeof addEventListener !== "undefined") addEventListener("online", () => wake?.());

/** Takes files to send for a visit. A file that was broken off earlier goes on. */
export function send(visit: string, list: Iterable<File>): void {
  for (const file of list) {
    const waiting = uploads.find((u) => u.visit === visit && u.state === "needs file" && u.name === file.name && u.size === file.size);
    if (waiting) {
      files.set(waiting.key, file);
      waiting.state = "waiting";
      void keep(waiting);
      continue;
    }
    const key = `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 8)}`;
    files.set(key, file);
    uploads.push({ key, visit, id: "", name: file.name, size: file.size, sent: 0, state: "waiting", trouble: "" });
    void keep(uploads.at(-1)!);
  }
  void turn();
}

/** Brings back what was under way when the page was left. */
export async function resume(visit: string): Promise<void> {
  for (const kept of await all()) {
    if (kept.visit !== visit || uploads.some((u) => u.key === kept.key)) continue;
    if (kept.file) files.set(kept.key, kept.file);
    uploads.push({ key: kept.key, visit, id: kept.id, name: kept.name, size: kept.size, sent: 0, state: kept.file ? "waiting" : "needs file", trouble: "" });
    if (!kept.file && kept.id) {
      const u = uploads.at(-1)!;
      u.sent = await offsetOf(u).catch(() => 0);
    }
  }
  void turn();
}

/** Tries a failed one again. */
export function again(u: Upload): void {
  u.state = files.has(u.key) ? "waiting" : "needs file";
  u.trouble = "";
  void turn();
}

/** Gives one up. */
export async function giveUp(u: Upload): Promise<void> {
  stopping.get(u.key)?.abort();
  forget(u);
  if (u.id) await ask(`/api/uploads/${encodeURIComponent(u.id)}`, { method: "DELETE" }).catch(() => {});
}

function forget(u: Upload): void {
  const i = uploads.findIndex((x) => x.key === u.key);
  if (i >= 0) uploads.splice(i, 1);
  files.delete(u.key);
  void drop(u.key);
}

/** Sends what waits, one after the other. */
async function turn(): Promise<void> {
  if (turning) return;
  turning = true;
  try {
    for (let u; (u = uploads.find((x) => x.state === "waiting")); ) await carry(u);
  } finally {
    turning = false;
  }
}

async function carry(u: Upload): Promise<void> {
  const file = files.get(u.key);
  if (!file) {
    u.state = "needs file";
    return;
  }
  const stop = new AbortController();
  stopping.set(u.key, stop);
  for (let failures = 0; !stop.signal.aborted; ) {
    try {
      u.state = "sending";
      u.trouble = "";
      if (!u.id) {
        const answer = (await (await ask(`/api/visits/${encodeURIComponent(u.visit)}/uploads`, { method: "POST", body: JSON.stringify({ name: u.name, size: u.size }), headers: { "Content-Type": "application/json" }, signal: stop.signal })).json()) as { upload: string; offset: number };
        u.id = answer.upload;
        u.sent = answer.offset;
        void keep(u);
      } else u.sent = await offsetOf(u, stop.signal);
      while (u.sent < u.size) {
        const [from, to] = part(u.sent, u.size);
        // Read first: a file that was moved or changed meanwhile cannot be read.
        const body = await file
          .slice(from, to)
          .arrayBuffer()
          .catch(() => null);
        if (!body) {
          files.delete(u.key);
          u.state = "needs file";
          return;
        }
        const res = await ask(`/api/uploads/${encodeURIComponent(u.id)}`, { method: "PATCH", body, headers: { "Content-Type": "application/offset+octet-stream", "Upload-Offset": String(from) }, signal: stop.signal });
        u.sent = Number(res.headers.get("Upload-Offset") ?? to);
        failures = 0;
      }
      u.state = "finishing";
      const clip = (await (await ask(`/api/uploads/${encodeURIComponent(u.id)}/finish`, { method: "POST", body: "{}", headers: { "Content-Type": "application/json" }, signal: stop.signal })).json()) as StudioClip;
      forget(u);
      for (const tell of [...listening]) tell(u.visit, clip);
      return;
    } catch (err) {
      if (stop.signal.aborted) return;
      if (err instanceof Refusal && err.status === 404 && u.id) {
        // The server has let it go; it begins anew.
        u.id = "";
        u.sent = 0;
        if (failures++ < 3) continue;
      }
      // Without a session it waits for the next one, as it does for the connection.
      if (err instanceof Refusal && err.status !== 409 && err.status !== 401 && err.status < 500) {
        u.state = "failed";
        u.trouble = err.message;
        return;
      }
      // A full disk does not empty itself.
      if (err instanceof Refusal && (err.status === 507 || (err.status >= 500 && failures > 3))) {
        u.state = "failed";
        u.trouble = err.message;
        return;
      }
      if (!(err instanceof Refusal && err.status === 409)) {
        u.state = "broken";
        await rest(pauseAfter(failures));
      }
      failures++;
    }
  }
}

/** Waits, or until the connection is said to be back. */
function rest(ms: number): Promise<void> {
  return new Promise((done) => {
    const timer = setTimeout(finish, ms);
    function finish() {
      clearTimeout(timer);
      wake = null;
      done();
    }
    wake = finish;
  });
}

async function offsetOf(u: Upload, signal?: AbortSignal): Promise<number> {
  const res = await ask(`/api/uploads/${encodeURIComponent(u.id)}`, { method: "HEAD", signal });
  return Number(res.headers.get("Upload-Offset") ?? 0);
}

// The files by this browser, until they have arrived.

function open(): Promise<IDBDatabase> {
  return new Promise((done, fail) => {
    const req = indexedDB.open("gaitwright", 1);
    req.onupgradeneeded = () => req.result.createObjectStore("uploads", { keyPath: "key" });
    req.onsuccess = () => done(req.result);
    req.onerror = () => fail(req.error);
  });
}

async function store<T>(mode: IDBTransactionMode, act: (s: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const db = await open();
  try {
    return await new Promise<T>((done, fail) => {
      const tx = db.transaction("uploads", mode);
      const req = act(tx.objectStore("uploads"));
      tx.oncomplete = () => done(req.result);
      tx.onerror = tx.onabort = () => fail(tx.error);
    });
  } finally {
    db.close();
  }
}

async function keep(u: Upload): Promise<void> {
  const line: Kept = { key: u.key, visit: u.visit, id: u.id, name: u.name, size: u.size, file: files.get(u.key) ?? null };
  try {
    await store("readwrite", (s) => s.put(line));
  } catch {
    // Too large to be kept here: then at least its name, to be chosen again.
    await store("readwrite", (s) => s.put({ ...line, file: null })).catch(() => {});
  }
  if (!uploads.some((x) => x.key === u.key)) await drop(u.key);
}

const drop = (key: string) => store("readwrite", (s) => s.delete(key)).catch(() => {});
const all = () => store("readonly", (s) => s.getAll() as IDBRequest<Kept[]>).catch(() => [] as Kept[]);
