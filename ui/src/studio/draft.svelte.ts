// A record that is being filled in. Every change is saved by itself; what was
// typed is never lost: not when the connection breaks, not when the page is
// loaded anew, not when someone else wrote the same record meanwhile.
import { at, differing, merge, put, type Clash } from "../logic/merge";
import { Refusal } from "./api";
import { hear } from "./live.svelte";

export type DraftStatus = "saved" | "waiting" | "saving" | "failed" | "clash";

interface Versioned {
  version: number;
}

export interface Keeper<T> {
  /** Writes the record and returns it as kept. */
  write(value: T): Promise<T>;
  /** Reads the record as it is kept now. */
  read(): Promise<T>;
  /** Tells items of lists apart. */
  keyOf?(item: unknown): string | null;
  /** The name under which an unsaved draft is kept by this browser's tab. */
  name: string;
}

const pause = 600; // ms from the last stroke to the writing
const pauses = [2000, 4000, 8000, 15000, 30000]; // ms between attempts

export class Draft<T extends Versioned> {
  value = $state() as T;
  status = $state<DraftStatus>("saved");
  savedAt = $state.raw<Date | null>(null);
  trouble = $state("");
  clashes = $state.raw<Clash[]>([]);
  /** Set where someone else's changes were joined with these. */
  joined = $state(false);

  private base = $state.raw() as T;
  private fresh = $state.raw<ReadonlySet<string>>(new Set());
  private timer: ReturnType<typeof setTimeout> | undefined;
  private attempts = 0;
  private busy: Promise<void> | null = null;
  private meeting = false;
  private deafen: () => void;

  constructor(
    from: T,
    private keeper: Keeper<T>,
  ) {
    this.base = from;
    this.value = structuredClone(from);
    const stored = this.recall();
    if (stored && differing(stored.base, stored.mine).length) {
      this.base = stored.base;
      this.value = stored.mine;
      this.take(from);
      this.edited();
    }
    addEventListener("online", this.wake);
    this.deafen = hear("again", this.wake);
    document.addEventListener("visibilitychange", this.hide);
  }

  close(): void {
    void this.flush();
    this.deafen();
    removeEventListener("online", this.wake);
    document.removeEventListener("visibilitychange", this.hide);
  }

  private wake = () => {
    if (this.status === "failed") void this.flush();
  };

  private hide = () => {
    if (document.visibilityState === "hidden" && this.status === "waiting") void this.flush();
  };

  /** To be called after each change of value. */
  edited(): void {
    if (!this.unsaved().length) {
      if (this.status === "waiting") this.status = "saved";
      this.forget();
      return;
    }
    this.keep();
    if (this.clashes.length) return;
    if (this.status !== "saving") this.status = "waiting";
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.flush(), pause);
  }

  set(path: string, value: unknown): void {
    put(this.value, path, value);
    this.edited();
  }

  /** What is to be said beside a field. */
  stateOf(path: string): "" | DraftStatus {
    if (differing(at(this.base, path) ?? null, at(this.value, path) ?? null).length) return this.status === "saved" ? "waiting" : this.status;
    return [...this.fresh].some((p) => p === path || p.startsWith(path + ".")) ? "saved" : "";
  }

  /** Takes in the record as the server has it, keeping what is unsaved here. */
  take(theirs: T): void {
    // While a writing is under way its answer tells; what is older is no news.
    if (this.status === "saving" && !this.meeting) return;
    if (theirs.version !== 0 && theirs.version < this.base.version) return;
    if (theirs.version === this.base.version && this.status !== "saved") return;
    const { value, clashes } = merge(bare(this.base), bare($state.snapshot(this.value) as T), bare(theirs), this.keeper.keyOf);
    const had = this.unsaved().length > 0;
    this.base = theirs;
    this.value = { ...(value as T), version: theirs.version };
    if (had && theirs.version) this.joined = true;
    this.clashes = clashes;
    if (clashes.length) this.status = "clash";
  }

  /** What stands here for a clash. */
  mine(clash: Clash): unknown {
    return at(this.value, clash.path, this.keeper.keyOf) ?? clash.mine;
  }

  /** Settles a clash by one of the two. */
  settle(clash: Clash, whose: "mine" | "theirs"): void {
    put(this.value, clash.path, whose === "mine" ? clash.mine : clash.theirs, this.keeper.keyOf);
    this.clashes = this.clashes.filter((c) => c !== clash);
    if (!this.clashes.length) {
      this.status = "waiting";
      this.edited();
      if (this.unsaved().length === 0) this.status = "saved";
    }
  }

  /** Writes now what is unsaved. */
  async flush(): Promise<void> {
    clearTimeout(this.timer);
    if (this.busy) return this.busy;
    this.busy = this.save().finally(() => (this.busy = null));
    return this.busy;
  }

  private async save(): Promise<void> {
    for (;;) {
      if (this.clashes.length) return;
      const paths = this.unsaved();
      if (!paths.length) {
        this.status = "saved";
        this.forget();
        return;
      }
      const sent = { ...($state.snapshot(this.value) as T), version: this.base.version };
      this.status = "saving";
      try {
        const kept = await this.keeper.write(sent);
        const now = $state.snapshot(this.value) as T;
        this.base = kept;
        this.value = { ...(merge(bare(sent), bare(now), bare(kept), this.keeper.keyOf).value as T), version: kept.version };
        this.attempts = 0;
        this.trouble = "";
        this.savedAt = new Date();
        this.fresh = new Set(paths);
      } catch (err) {
        if (err instanceof Refusal && err.status === 409 && (await this.meet())) continue;
        if (this.clashes.length) return;
        this.status = "failed";
        this.trouble = err instanceof Refusal ? err.message : "";
        // A refusal for what was written is not mended by asking again; one because this
        // device is not signed in is, once it is.
        if (!(err instanceof Refusal) || err.status >= 500 || err.status === 409 || err.status === 401) {
          this.timer = setTimeout(() => void this.flush(), pauses[Math.min(this.attempts++, pauses.length - 1)]);
        }
        return;
      }
    }
  }

  /** Someone else wrote first: reads what they wrote and joins the two. */
  private async meet(): Promise<boolean> {
    try {
      const theirs = await this.keeper.read();
      this.meeting = true;
      this.take(theirs);
      this.joined = true;
      this.keep();
    } catch {
      return false;
    } finally {
      this.meeting = false;
    }
    return this.clashes.length === 0;
  }

  private unsaved(): string[] {
    return differing(bare(this.base), bare($state.snapshot(this.value) as T));
  }

  private get slot(): string {
    return `gaitwright.draft.${this.keeper.name}`;
  }

  private keep(): void {
    try {
      sessionStorage.setItem(this.slot, JSON.stringify({ base: this.base, mine: $state.snapshot(this.value) }));
    } catch {
      // Then the draft lives as long as the page does.
    }
  }

  private forget(): void {
    try {
      sessionStorage.removeItem(this.slot);
    } catch {
      // As above.
    }
  }

  private recall(): { base: T; mine: T } | null {
    try {
      return JSON.parse(sessionStorage.getItem(this.slot) ?? "null") as { base: T; mine: T } | null;
    } catch {
      return null;
    }
  }
}

/** A record without its version, which is the server's. */
function bare<T extends Versioned>(record: T): Omit<T, "version"> {
  const { version: _, ...rest } = record;
  return rest;
}
