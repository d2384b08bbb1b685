// The stickers of one clip while they are clicked and followed. The picture of the
// bench works with it as with the landmarks.
import type { Placed } from "../logic/lens";
import type { Reel } from "../player/reel.svelte";
import { cancelJob, measureVisit, Refusal, type Job } from "../studio/api";
import { hear } from "../studio/live.svelte";
import { stickerText as w } from "../text/stickers";
import { follow, jobs, putStickers, stickers } from "./api";
import { paint } from "./paint";
import { clicked, longestName, offered, onPath, unclicked, without, worthALook, type Doubt, type Followed, type Point, type Stickers } from "./points";

/** How long steps by keys are gathered before they are kept, ms. */
const gather = 350;

interface Spot {
  x: number;
  y: number;
}

const running = (j: Job | null) => !!j && (j.state === "queued" || j.state === "running");
const sentence = (err: unknown) => (err instanceof Error ? err.message : String(err));

export class StickerDesk {
  points = $state.raw<Point[]>([]);
  followed = $state.raw<Followed[]>([]);
  fresh = $state(false);
  /** What is wrong with the first click of a point, by its name. */
  doubts = $state.raw<Record<string, Doubt>>({});
  ready = $state(false);
  trouble = $state("");
  said = $state("");
  /** The point in hand; a name that has no click yet is possible. */
  held = $state("");
  following = $state.raw<Job | null>(null);
  measuring = $state.raw<Job | null>(null);
  /** The newer result, once it is measured. */
  outcome = $state("");
  screen = 1;
  readonly turn = 0;

  private followedAt = $state("");
  private version = 0;
  private hand = $state.raw<(Spot & { name: string; frame: number }) | null>(null);
  private timer: ReturnType<typeof setTimeout> | undefined;
  private chain: Promise<void> = Promise.resolve();
  private deaf: (() => void)[] = [];
  private closed = false;

  constructor(
    readonly reel: Reel,
    /** The visit's clip; empty where there is no visit. */
    readonly clip: string,
    readonly visit: string,
    /** The clips of the result, which are measured again. */
    private readonly measured: string[],
    /** When the result on show was measured. */
    private readonly made = "",
  ) {}

  open(): void {
    if (!this.clip) return;
    this.deaf = [hear("job", (j) => void this.news(j)), hear("again", () => void this.catchUp())];
    void this.catchUp();
  }

  close(): void {
    this.settle();
    this.closed = true;
    this.deaf.forEach((stop) => stop());
  }

  /** Reads the stickers and the work under way anew. */
  async catchUp(): Promise<void> {
    try {
      const [kept, work] = await Promise.all([stickers(this.clip), jobs()]);
      if (this.closed) return;
      this.accept(kept);
      this.trouble = "";
      for (const j of work) if (running(j) || j.id === this.following?.id || j.id === this.measuring?.id) await this.news(j);
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  private accept(kept: Stickers): void {
    this.version = kept.version;
    this.points = kept.points;
    this.followed = kept.followed;
    this.fresh = kept.fresh;
    this.doubts = kept.doubts ?? {};
    this.followedAt = kept.followed_at ?? "";
    this.ready = true;
  }

  private async news(j: Job): Promise<void> {
    if (j.kind === "follow" && j.clip_id === this.clip) {
      if (this.following && j.id < this.following.id) return; // ids grow with time: an older one is no news
      const ended = running(this.following) && !running(j);
      this.following = j;
      if (ended) this.looked = -1;
      if (ended) await this.ended(j, w.followedNow);
    } else if (j.kind === "measure" && this.measuring?.id === j.id) {
      const ended = running(this.measuring) && !running(j);
      this.measuring = j;
      if (!ended) return;
      if (j.state === "done") this.outcome = j.outcome;
      await this.ended(j, w.measuredNow);
    }
  }

  private async ended(j: Job, done: string): Promise<void> {
    this.said = j.state === "done" ? done : j.state === "cancelled" ? w.cancelled : "";
    if (j.state === "failed") this.trouble = j.message;
    try {
      const kept = await stickers(this.clip);
      if (!this.closed) this.accept(kept);
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  get busy(): boolean {
    return running(this.following) || running(this.measuring);
  }

  /** The result on show was measured before the stickers were followed. */
  get old(): boolean {
    return !this.outcome && this.followedAt !== "" && this.made !== "" && Date.parse(this.followedAt) > Date.parse(this.made);
  }

  /** The part of the file that was measured. */
  get span(): [number, number] {
    const first = this.reel.clip.first_frame;
    return [first, first + Math.max(0, this.reel.frames - 1)];
  }

  private looked = -1;

  get toLookAt() {
    return worthALook(this.followed.filter((f) => f.current), ...this.span);
  }

  /** Leads to the next range that is doubtful or lost, the one that matters most first. */
  lookNext(): void {
    const all = this.toLookAt;
    if (!all.length) return;
    this.looked = (this.looked + 1) % all.length;
    const at = all[this.looked]!;
    this.show(at.name, at.from);
  }

  // What the picture of the bench needs.

  get fileFrame(): number {
    return this.reel.clip.first_frame + this.reel.shown;
  }

  /** The points with a click, and the one in hand. */
  get names(): string[] {
    const all = this.points.map((p) => p.name);
    return this.held && !all.includes(this.held) ? [...all, this.held] : all;
  }

  /** Those offered that are not there yet. */
  get unused(): string[] {
    return offered(this.reel.clip.view).filter((n) => !this.points.some((p) => p.name === n));
  }

  path(name: string): Followed | undefined {
    return this.followed.find((f) => f.name === name);
  }

  isClicked(name: string): boolean {
    const frame = this.fileFrame;
    if (this.hand?.name === name && this.hand.frame === frame) return true;
    return !!this.points.find((p) => p.name === name)?.clicks.some((c) => c.frame === frame);
  }

  spot(name: string): Spot | null {
    const frame = this.fileFrame;
    if (this.hand?.name === name && this.hand.frame === frame) return this.hand;
    const click = this.points.find((p) => p.name === name)?.clicks.find((c) => c.frame === frame);
    return click ?? onPath(this.path(name), frame);
  }

  placedIn(): string[] {
    return this.names.filter((n) => this.isClicked(n));
  }

  sure(name: string): number | null {
    return this.path(name)?.quality[this.fileFrame] ?? null;
  }

  pointName(name: string): string {
    return w.pointName(name);
  }

  get hint(): string {
    return this.held ? w.readyToClick(this.pointName(this.held)) : w.hint;
  }

  get heldHint(): string {
    return w.heldHint;
  }

  /** It draws itself. */
  get own(): this {
    return this;
  }

  paint(g: CanvasRenderingContext2D, lens: Placed, unit: number): void {
    paint(g, this, lens, unit);
  }

  /** Chooses a point; an own name is trimmed to what can be kept. */
  take(name: string): void {
    const n = name.trim().slice(0, longestName);
    if (n === this.held) return;
    this.settle();
    this.held = n;
  }

  letGo(): void {
    this.settle();
    this.held = "";
  }

  step(by: 1 | -1): void {
    const all = this.names;
    if (!all.length) return;
    const i = all.indexOf(this.held);
    this.take(all[i < 0 ? (by > 0 ? 0 : all.length - 1) : (i + by + all.length) % all.length]!);
  }

  /** A click beside the marks: the point in hand is there. */
  tap(s: Spot): void {
    if (!this.held || !this.ready) return;
    this.moveTo(s);
    this.settle();
  }

  /** By keys: a mark in the middle of what is in sight, to be moved from there. */
  begin(): void {
    const { clip, lens } = this.reel;
    this.tap({ x: lens.x * clip.width_px, y: lens.y * clip.height_px });
  }

  moveTo(s: Spot): void {
    if (!this.held || !this.ready) return;
    this.reel.pause();
    const { width_px, height_px } = this.reel.clip;
    this.hand = { name: this.held, frame: this.fileFrame, x: Math.min(Math.max(s.x, 0), width_px), y: Math.min(Math.max(s.y, 0), height_px) };
  }

  nudge(dx: number, dy: number): void {
    const at = this.spot(this.held);
    if (!at) return;
    this.moveTo({ x: at.x + dx, y: at.y + dy });
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.settle(), gather);
  }

  settle(): void {
    clearTimeout(this.timer);
    const h = this.hand;
    if (!h) return;
    this.keep(clicked(this.points, h.name, h), w.clickedAt(this.pointName(h.name), h.frame));
    this.hand = null;
  }

  /** Says that the point in hand is where it was followed to. */
  confirm(): void {
    const at = this.spot(this.held);
    if (!at) return;
    this.moveTo(at);
    this.settle();
  }

  /** Takes back the click of the point in hand in the frame on show. */
  original(): void {
    this.unclick(this.held, this.fileFrame);
  }

  unclick(name: string, frame: number): void {
    clearTimeout(this.timer);
    this.hand = null;
    if (this.points.some((p) => p.name === name && p.clicks.some((c) => c.frame === frame))) this.keep(unclicked(this.points, name, frame), w.unclickedAt(this.pointName(name), frame));
  }

  remove(name: string): void {
    this.hand = null;
    if (this.held === name) this.held = "";
    this.keep(without(this.points, name), w.removed(this.pointName(name)));
  }

  /** Shows a frame of the file, as far as it was measured, with a point in hand. */
  show(name: string, frame: number): void {
    this.take(name);
    this.reel.pause();
    this.reel.go(frame - this.reel.clip.first_frame);
  }

  // One thing after the other, so that each builds on the answer before; what
  // stands is shown at once.
  private keep(points: Point[], said: string): void {
    const held = this.held;
    this.points = points;
    this.fresh = false;
    this.followed = this.followed.map((f) => ({ ...f, current: f.current && points.some((p) => p.name === f.name) }));
    this.chain = this.chain.then(async () => {
      try {
        const kept = await putStickers(this.clip, this.version, points);
        this.version = kept.version;
        if (this.points === points) this.accept(kept);
        const doubt = this.doubts[held];
        this.said = doubt ? `${this.pointName(held)}: ${w.doubts[doubt]}` : said;
        this.trouble = "";
      } catch (err) {
        await this.catchUp();
        this.trouble = err instanceof Refusal && err.status === 409 ? w.stale : sentence(err);
      }
    });
  }

  async follow(): Promise<void> {
    this.settle();
    await this.chain;
    try {
      this.said = "";
      this.trouble = "";
      this.following = await follow(this.clip);
      await this.check();
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  async measure(): Promise<void> {
    this.settle();
    await this.chain;
    try {
      this.said = "";
      this.trouble = "";
      this.outcome = "";
      this.measuring = await measureVisit(this.visit, this.measured, "");
      await this.check();
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  /** What was quick may have ended before its job was known here. */
  private async check(): Promise<void> {
    for (const j of await jobs()) await this.news(j);
  }

  async cancel(j: Job): Promise<void> {
    try {
      await this.news(await cancelJob(j.id));
    } catch (err) {
      this.trouble = sentence(err);
    }
  }
}
