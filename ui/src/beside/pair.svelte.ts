// Two films looked at together, and what is drawn on them.
import { result as fetchResult, type Clip, type Session } from "../api";
import { rates, Reel } from "../player/reel.svelte";
import { Refusal } from "../studio/api";
import { beside } from "../text/beside";
import { choices, drawings, pairing, putDrawings, undoDrawings, type Choice, type Choices, type Drawings, type Foot, type Mark, type Note, type Pairing, type Point, type Shown } from "./api";
import { between, pointsOf, round, within } from "./geometry";

export type Layout = "one" | "beside" | "over";
export type Letter = "A" | "B";

/** How long nudges by keys are gathered before they are kept, ms. */
const gather = 350;

/** One of the two films. */
export class Seat {
  session = $state.raw<Session | null>(null);
  reel = $state.raw<Reel | null>(null);
  stride = $state(0);
  drawings = $state.raw<Drawings | null>(null);
  /** A mark while its point is moved, before that is kept. */
  moving = $state.raw<{ mark: number; points: Point[] } | null>(null);

  constructor(readonly letter: Letter) {}

  get shown(): Shown | null {
    return this.reel ? { result: this.reel.id, clip: this.reel.clip.index, stride: this.stride } : null;
  }

  /** The file's frame of the sample on show. */
  get fileFrame(): number {
    return this.reel ? this.reel.clip.first_frame + this.reel.shown : 0;
  }

  /** The marks as they are seen now. */
  get marks(): Mark[] {
    const list = this.drawings?.marks ?? [];
    return this.moving ? list.map((m, i) => (i === this.moving!.mark ? { ...m, points: this.moving!.points } : m)) : list;
  }

  on(m: Mark): boolean {
    return m.stays || m.frame === this.fileFrame;
  }

  /** Which marks are on the frame on show. */
  get present(): number[] {
    return this.marks.flatMap((m, i) => (this.on(m) ? [i] : []));
  }

  close(): void {
    this.reel?.close();
  }
}

export class Pair {
  a = new Seat("A");
  b = new Seat("B");
  layout = $state<Layout>("beside");
  foot = $state<Foot>("left");
  opacity = $state(0.5);
  match = $state(true);
  pairing = $state.raw<Pairing | null>(null);
  /** Why there is none. */
  unmatched = $state("");
  step = $state(0);
  rate = $state<number>(0.25);
  playing = $state(false);
  trouble = $state("");
  said = $state("");

  /** What is being drawn; null for nothing. */
  tool = $state<Mark["kind"] | null>(null);
  draft = $state.raw<Point[]>([]);
  /** The cross that the keys move, and the end of what is drawn by the pointer. */
  cross = $state.raw<Point | null>(null);
  onLetter = $state<Letter>("A");
  /** The point of a mark that is in hand. */
  held = $state.raw<{ letter: Letter; mark: number; point: number } | null>(null);

  private sessions = new Map<string, Promise<Session>>();
  private raf = 0;
  private turn = 0;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private chain: Promise<void> = Promise.resolve();

  private constructor(readonly known: Choices) {}

  /** Opens what the address asks for, or what is most likely wanted. */
  static async open(visit: string, result: string, hash: string): Promise<Pair> {
    const pair = new Pair(await choices(visit, result));
    const asked = new URLSearchParams(hash.replace(/^#/, ""));
    await pair.begin(asked, result);
    return pair;
  }

  close(): void {
    this.settle();
    this.pause();
    clearTimeout(this.timer);
    this.a.close();
    this.b.close();
  }

  get seats(): Seat[] {
    return this.layout === "one" ? [this.a] : [this.a, this.b];
  }

  seat(letter: Letter): Seat {
    return letter === "A" ? this.a : this.b;
  }

  get drawnOn(): Seat {
    return this.layout === "beside" ? this.seat(this.onLetter) : this.a;
  }

  get notes(): Note[] {
    return this.layout === "one" ? [] : (this.pairing?.notes ?? []);
  }

  /** Whether both are moved by the phase. */
  get paired(): boolean {
    return this.layout !== "one" && this.pairing !== null;
  }

  get steps(): number {
    return this.paired ? this.pairing!.steps.length : (this.a.reel?.frames ?? 0);
  }

  /** The step on show. */
  get at(): number {
    return this.paired ? this.step : (this.a.reel?.wanted ?? 0);
  }

  get phase(): number | null {
    return this.paired ? (this.pairing!.steps[this.step]?.phase ?? null) : null;
  }

  get earlier(): Choice[] {
    return this.known.results;
  }

  // Choosing.

  private session(id: string): Promise<Session> {
    let s = this.sessions.get(id);
    if (!s) {
      s = fetchResult(id);
      this.sessions.set(id, s);
      s.catch(() => this.sessions.delete(id));
    }
    return s;
  }

  private async begin(asked: URLSearchParams, result: string): Promise<void> {
    const list = this.known.results;
    const foot = asked.get("foot");
    if (foot === "left" || foot === "right") this.foot = foot;
    const first = named(asked.get("a")) ?? this.firstOf(list, result);
    if (!first) return;
    const s = await this.session(first.result);
    const film = s.clips?.[first.clip]?.video ? first.clip : (s.clips ?? []).findIndex((c) => c.video);
    if (film < 0) throw new Error(beside.nothing);
    const clip = s.clips![film]!;
    if (foot === null && clip.view === "right") this.foot = "right";
    const frame = Number.parseInt(asked.get("frame") ?? "", 10);
    const alone = asked.has("frame") || asked.get("show") === "one";
    await this.sit(this.a, first.result, film, first.stride, alone && frame > 0 ? frame : 0);
    const second = named(asked.get("b")) ?? (await this.secondOf(list, first.result, clip));
    await this.sit(this.b, second.result, second.clip, second.stride).catch(() => this.sit(this.b, first.result, film, 1));
    const show = asked.get("show");
    this.layout = alone ? "one" : show === "over" ? "over" : "beside";
    await this.pairUp();
    const step = Number.parseInt(asked.get("step") ?? "", 10);
    if (this.layout !== "one") this.go(step > 0 ? step : 0);
  }

  private firstOf(list: Choice[], result: string): Shown | null {
    const c = list.find((r) => r.result === result) ?? list.find((r) => r.here && r.current) ?? list[0];
    return c ? { result: c.result, clip: Math.max(0, c.views.findIndex((v) => v === "left" || v === "right")), stride: 0 } : null;
  }

  /** The same view of the visit before, else the next stride of the same film. */
  private async secondOf(list: Choice[], first: string, clip: Clip): Promise<Shown> {
    const of = list.find((r) => r.result === first);
    const before = list.filter((r) => r.current && of && r.visit !== of.visit && r.date <= of.date && r.views.includes(clip.view)).sort((x, y) => (x.date < y.date ? 1 : -1))[0];
    if (before) {
      const s = await this.session(before.result).catch(() => null);
      const i = (s?.clips ?? []).findIndex((c) => c.view === clip.view && c.video);
      if (i >= 0) return { result: before.result, clip: i, stride: 0 };
    }
    return { result: first, clip: clip.index, stride: 1 };
  }

  /** Puts a film on a seat. */
  private async sit(seat: Seat, result: string, clip: number, stride: number, frame = 0): Promise<void> {
    const session = await this.session(result);
    const film = session.clips?.[clip];
    if (!film?.video) throw new Error(beside.nothing);
    if (seat.reel?.id !== result || seat.reel.clip.index !== clip) {
      const reel = new Reel(result, film);
      await reel.load(frame);
      seat.reel?.close();
      seat.reel = reel;
      seat.session = session;
      seat.drawings = null;
      this.held = null;
      void this.reread(seat);
    }
    seat.stride = stride;
  }

  async choose(letter: Letter, result: string, clip: number): Promise<void> {
    this.leave();
    this.pause();
    try {
      const other = this.seat(letter === "A" ? "B" : "A");
      const same = other.reel?.id === result && other.reel.clip.index === clip && other.stride === 0;
      await this.sit(this.seat(letter), result, clip, same ? 1 : 0);
      await this.pairUp();
      this.go(0);
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  async chooseStride(letter: Letter, stride: number): Promise<void> {
    this.pause();
    this.seat(letter).stride = stride;
    await this.pairUp();
    this.go(this.step);
  }

  async chooseFoot(foot: Foot): Promise<void> {
    if (foot === this.foot) return;
    this.pause();
    this.foot = foot;
    this.a.stride = 0;
    this.b.stride = this.a.reel?.id === this.b.reel?.id && this.a.reel?.clip.index === this.b.reel?.clip.index ? 1 : 0;
    await this.pairUp();
    this.go(0);
  }

  lie(layout: Layout): void {
    this.leave();
    this.pause();
    const was = this.layout;
    this.layout = layout;
    // From one film to two, the phase that was on show is kept as near as may be.
    if (was === "one" && this.pairing) {
      const at = this.a.reel?.shown ?? 0;
      const near = this.pairing.steps.reduce((best, s, i) => (Math.abs(s.a - at) < Math.abs(this.pairing!.steps[best]!.a - at) ? i : best), 0);
      this.go(near);
    }
  }

  private async pairUp(): Promise<void> {
    const [a, b] = [this.a.shown, this.b.shown];
    if (!a || !b) return;
    const turn = ++this.turn;
    try {
      const found = await pairing(a, b, this.foot);
      if (turn !== this.turn) return;
      this.pairing = found;
      this.unmatched = "";
    } catch (err) {
      if (turn !== this.turn) return;
      // A clip of few strides may have no second one.
      if (b.stride > 0 && err instanceof Refusal && err.status === 422) {
        this.b.stride = 0;
        this.a.stride = 0;
        return this.pairUp();
      }
      this.pairing = null;
      this.unmatched = sentence(err);
    }
  }

  // Moving.

  go(step: number): void {
    this.letGo();
    if (!this.paired) {
      this.a.reel?.go(step);
      return;
    }
    this.step = round(step, this.steps);
    const now = this.pairing!.steps[this.step]!;
    this.a.reel?.go(now.a);
    this.b.reel?.go(now.b);
  }

  move(by: number): void {
    this.pause();
    this.go(this.at + by);
  }

  toggle(): void {
    if (this.playing) return this.pause();
    this.leave();
    const { a, b } = { a: this.a.reel, b: this.b.reel };
    if (!a) return;
    this.playing = true;
    let before = performance.now();
    let at = this.at;
    const seconds = () => (this.paired ? this.pairing!.a.strides[this.pairing!.a.stride]! : null);
    const stride = seconds();
    const hz = stride ? this.steps / (stride.to_s - stride.from_s) : a.clip.frame_rate_hz;
    const turn = (now: number) => {
      if (!this.playing) return;
      // Where a picture is late both wait for it, so that they stay together.
      const there = (r: Reel | null) => !r || r.shown === r.wanted || !!r.trouble;
      if (there(a) && (!this.paired || there(b))) at += Math.min(1, (now - before) / 1000) * this.rate * hz;
      before = now;
      const step = Math.floor(at);
      if (step !== this.at) this.go(this.paired ? step : round(step, this.steps));
      this.raf = requestAnimationFrame(turn);
    };
    this.raf = requestAnimationFrame(turn);
  }

  pause(): void {
    cancelAnimationFrame(this.raf);
    this.playing = false;
  }

  setRate(index: number): void {
    this.rate = rates[index] ?? this.rate;
  }

  // Drawing.

  take(kind: Mark["kind"]): void {
    const seat = this.drawnOn;
    if (!seat.reel) return;
    this.pause();
    this.settle();
    this.held = null;
    if (this.tool === kind) return this.leave();
    this.tool = kind;
    this.draft = [];
    this.cross = null;
    this.said = `${kind === "angle" ? beside.draw.hintAngle : beside.draw.hintLine} ${beside.draw.hintKeys}`;
  }

  leave(): void {
    this.settle();
    this.tool = null;
    this.draft = [];
    this.cross = null;
    this.held = null;
    this.said = "";
  }

  letGo(): void {
    this.settle();
    this.held = null;
    if (this.draft.length) this.leave();
  }

  otherSeat(): void {
    if (this.layout !== "beside") return;
    this.leave();
    this.onLetter = this.onLetter === "A" ? "B" : "A";
  }

  private size(seat: Seat): [number, number] {
    return [seat.reel?.clip.width_px ?? 0, seat.reel?.clip.height_px ?? 0];
  }

  /** Places the next point of what is drawn. */
  place(at: Point): void {
    const seat = this.drawnOn;
    if (!this.tool || !seat.reel) return;
    const [w, h] = this.size(seat);
    if (at[0] < 0 || at[1] < 0 || at[0] > w || at[1] > h) {
      this.said = beside.draw.outside;
      return;
    }
    const p = within(at, w, h);
    const last = this.draft[this.draft.length - 1];
    if (last && between(last, p) < 1) {
      this.said = beside.draw.samePlace;
      return;
    }
    const points = [...this.draft, p];
    const of = pointsOf(this.tool);
    if (points.length < of) {
      this.draft = points;
      this.cross = p;
      this.said = beside.draw.placed(points.length, of);
      return;
    }
    const kind = this.tool;
    const frame = seat.fileFrame;
    this.leave();
    void this.keep(seat, beside.draw.deeds.drew(kind, frame), (marks) => [...marks, { kind, frame, stays: false, points, text: "" }]);
  }

  /** Moves the cross, or the point in hand. */
  nudge(dx: number, dy: number, middle: Point): void {
    if (this.tool) {
      const [w, h] = this.size(this.drawnOn);
      const from = this.cross ?? middle;
      this.cross = within([from[0] + dx, from[1] + dy], w, h);
    } else if (this.held) {
      const mark = this.seat(this.held.letter).marks[this.held.mark];
      const p = mark?.points[this.held.point];
      if (p) this.drag([p[0] + dx, p[1] + dy]);
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.settle(), gather);
    }
  }

  hold(letter: Letter, mark: number, point: number): void {
    this.settle();
    this.held = { letter, mark, point };
    this.said = beside.draw.point(point + 1);
  }

  /** Takes the next point of what is drawn on the frame on show. */
  nextPoint(): void {
    const seat = this.drawnOn;
    const all = seat.present.flatMap((mark) => seat.marks[mark]!.points.map((_, point) => ({ mark, point })));
    if (!all.length) return;
    const i = all.findIndex((x) => this.held?.letter === seat.letter && x.mark === this.held.mark && x.point === this.held.point);
    const next = all[(i + 1) % all.length]!;
    this.hold(seat.letter, next.mark, next.point);
  }

  /** Shows the point in hand elsewhere; settle keeps it. */
  drag(to: Point): void {
    if (!this.held) return;
    const seat = this.seat(this.held.letter);
    const mark = seat.marks[this.held.mark];
    if (!mark) return;
    const p = within(to, ...this.size(seat));
    const points = mark.points.map((q, i) => (i === this.held!.point ? p : q));
    if (points.some((q, i) => i > 0 && between(q, points[i - 1]!) < 1)) return;
    seat.moving = { mark: this.held.mark, points };
  }

  /** Keeps where the point in hand was moved to. */
  settle(): void {
    clearTimeout(this.timer);
    for (const seat of [this.a, this.b]) {
      const moving = seat.moving;
      const mark = moving && seat.drawings?.marks[moving.mark];
      if (!moving || !mark) continue;
      void this.keep(seat, beside.draw.deeds.moved(mark.kind, mark.frame), (marks) => marks.map((m, i) => (i === moving.mark ? { ...m, points: moving.points } : m)));
    }
  }

  remove(letter: Letter, mark: number): void {
    const seat = this.seat(letter);
    const gone = seat.drawings?.marks[mark];
    if (!gone) return;
    this.held = null;
    seat.moving = null;
    void this.keep(seat, beside.draw.deeds.removed(gone.kind, gone.frame), (marks) => marks.filter((_, i) => i !== mark));
  }

  write(letter: Letter, mark: number, change: Partial<Pick<Mark, "text" | "stays">>): void {
    const seat = this.seat(letter);
    const old = seat.drawings?.marks[mark];
    if (!old || (change.text === undefined ? change.stays === old.stays : change.text.trim() === old.text)) return;
    const deed = change.text === undefined ? beside.draw.deeds.stays(old.frame) : beside.draw.deeds.wrote(old.frame);
    void this.keep(seat, deed, (marks) => marks.map((m, i) => (i === mark ? { ...m, ...change } : m)));
  }

  undo(again: boolean): void {
    this.leave();
    const seat = this.drawnOn;
    const shown = seat.shown;
    if (!shown || !(again ? seat.drawings?.redo : seat.drawings?.undo)) return;
    void this.send(seat, () => undoDrawings(shown.result, shown.clip, again));
  }

  private keep(seat: Seat, what: string, change: (marks: Mark[]) => Mark[]): Promise<void> {
    const shown = seat.shown;
    if (!shown) return Promise.resolve();
    return this.send(seat, () => putDrawings(shown.result, shown.clip, seat.drawings?.version ?? 0, what, change(seat.drawings?.marks ?? [])), what);
  }

  /** Sends one thing after the other, so that each builds on the answer before. */
  private send(seat: Seat, ask: () => Promise<Drawings>, what = ""): Promise<void> {
    this.chain = this.chain.then(async () => {
      try {
        if (!seat.drawings) await this.reread(seat);
        this.accept(seat, await ask());
        this.trouble = "";
        this.said = what;
      } catch (err) {
        if (err instanceof Refusal && err.status === 409) {
          this.trouble = beside.draw.stale;
          await this.reread(seat);
        } else this.trouble = sentence(err);
      } finally {
        seat.moving = null;
      }
    });
    return this.chain;
  }

  /** Takes in an answer, on both seats where both show the same film. */
  private accept(seat: Seat, now: Drawings): void {
    for (const s of [this.a, this.b]) if (s.reel?.id === seat.reel?.id && s.reel?.clip.index === seat.reel?.clip.index) s.drawings = now;
  }

  private async reread(seat: Seat): Promise<void> {
    const shown = seat.shown;
    if (!shown) return;
    try {
      const now = await drawings(shown.result, shown.clip);
      if (seat.shown?.result === shown.result && seat.shown.clip === shown.clip) this.accept(seat, now);
    } catch (err) {
      this.trouble = sentence(err);
    }
  }

  /** Where the page is, for its address. */
  get address(): string {
    const name = (s: Seat) => (s.shown ? `${s.shown.result}/${s.shown.clip}/${s.shown.stride}` : "");
    if (this.layout === "one") return `#a=${name(this.a)}&frame=${this.a.reel?.shown ?? 0}`;
    return `#a=${name(this.a)}&b=${name(this.b)}&foot=${this.foot}&show=${this.layout}&step=${this.step}`;
  }
}

const sentence = (err: unknown) => (err instanceof Error ? err.message : String(err));

/** Reads "result/clip/stride" of an address. */
function named(text: string | null): Shown | null {
  const parts = (text ?? "").split("/");
  const [clip, stride] = [Number(parts[1] ?? "x"), Number(parts[2] ?? 0)];
  return parts[0] && Number.isInteger(clip) && clip >= 0 ? { result: parts[0], clip, stride: Number.isInteger(stride) && stride >= 0 ? stride : 0 } : null;
}
