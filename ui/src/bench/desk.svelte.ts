// One clip while it is corrected: what is in hand, what was corrected, what that
// changed, and which frames are worth a look.
import { definitions, result, type Clip, type Contact, type Definition, track as trackOf, type Session, type Track } from "../api";
import { clamp } from "../logic/clock";
import { momentFrame } from "../logic/contacts";
import { sessionIn, trackIn } from "../logic/convert";
import { turned } from "../logic/units";
import { Reel } from "../player/reel.svelte";
import { prefs } from "../prefs.svelte";
import { bench } from "../text/bench";
import { correct, doubts, edits as fetchEdits, redo, Stale, tryOut, undo, type Change, type Corrected, type Doubt, type Edits, type Effect, type Kept, type Part } from "./api";
import { contactAdded, contactFrom, contactMoved, contactRemoved, exchanged, patched, placed, placingError, unplaced, type Edge } from "./edits";

/** A place in the picture, in its pixels. */
export interface Spot {
  x: number;
  y: number;
}

/** How long nudges by keys are gathered before they are kept, ms. */
const gather = 350;
/** How long after a correction the frames worth checking are asked for anew, ms. */
const rest = 700;
/** So long after the last correction what was told of it in part is read anew; the whole track of a long film takes a moment, in which a hand that is about to go on would wait. */
const longRest = 3000;
/** How long what changed is marked as new, ms. */
const newFor = 1200;
/** After so long without a question, ms, the server may have put away what it held ready for corrections: it does in a calm of minutes. */
const calm = 100_000;
export const mostBlend = 30;

/** A change to be tried; contacts stay as they are shown while one of them is in hand. */
interface Attempt {
  change: (e: Edits) => Edits;
  gripped: boolean;
}

export class Desk {
  session: Session;
  reels: Reel[];
  words: Definition[] = $state.raw([]);
  edits: Edits;
  changed = $state.raw<Change[]>([]);
  since = $state.raw<Change[]>([]);
  /** What all corrections together changed is known. */
  compared = $state(false);
  /** What was done last, for the eye and for a screen reader. */
  said = $state("");
  trouble = $state("");
  /** Corrections on their way to the server. */
  under = $state(0);
  /** Counts the answers, so that what changed can be shown anew. */
  turn = $state(0);
  /** Counts what was shown without being kept: measures follow the hand. */
  tries = $state(0);
  /** What changed is marked as new for a while. It does not fade: the browser would paint at every picture of the screen, on the cores that work out the next correction. */
  fresh = $state(false);
  private aging: ReturnType<typeof setTimeout> | undefined;

  /** The landmark in hand; empty for none. */
  held = $state("");
  /** Where it is while it is moved, before that is kept. */
  hand = $state.raw<Spot | null>(null);
  private handFrame = -1;
  /** A place that is on its way to the server, so that the point does not jump back meanwhile. */
  private going = $state.raw<{ landmark: string; frame: number; spot: Spot } | null>(null);
  blend = $state(3);
  /** Screen pixels a picture pixel, told by the picture. */
  screen = 1;

  places = $state.raw<Doubt[] | null>(null);
  placesTrouble = $state("");
  place = $state(-1);
  /** The place before the next one to look at, which a correction may rank elsewhere than the one on show. */
  private passed = -1;
  /** Somebody is being led from place to place, though none may be on show just now. */
  led = $state(false);
  looked = $state.raw<ReadonlySet<string>>(new Set());

  /** The first frame of an exchange that was begun, or -1. */
  begun = $state(-1);

  /** What is shown when nothing is tried. */
  private settled: Pick<Desk, "session" | "changed" | "since" | "compared"> & { track: Track | null; coarse: boolean } | null = null;
  /** What is drawn is off by less than can be seen, until it is read anew. */
  private coarse = false;
  private next: Attempt | null = null;
  /** What is being tried, until it is answered. */
  private trying: Promise<void> | null = null;
  private tried: { what: string; stop: AbortController } | null = null;
  /** The corrections whose effect is on show though they are not kept; empty for none. */
  ahead = $state("");
  /** What is under way of it is not shown any more. */
  private stood = false;

  private timer: ReturnType<typeof setTimeout> | undefined;
  private chain: Promise<void> = Promise.resolve();
  private asked: AbortController | undefined;
  private finer: AbortController | undefined;
  private looking: ReturnType<typeof setTimeout> | undefined;
  private refining: ReturnType<typeof setTimeout> | undefined;
  private closed = false;
  /** When the server was asked last. */
  private askedAt = Date.now();

  private constructor(
    readonly id: string,
    readonly index: number,
    session: Session,
    edits: Edits,
  ) {
    this.session = $state.raw(session);
    this.edits = $state.raw(edits);
    this.reels = (session.clips ?? []).map((c) => new Reel(id, c));
  }

  static async open(id: string, index: number, frame: number): Promise<Desk> {
    const coming = trackOf(id, index);
    coming.catch(() => {}); // told where it is waited for
    const [session, kept] = await Promise.all([result(id), fetchEdits(id, index)]);
    const desk = new Desk(id, index, sessionIn(prefs.units, session), kept);
    if (!desk.reel) throw new Error(bench.noBench);
    await desk.reel.load(frame, coming);
    // The others once this one stands: both at once, each would come later.
    setTimeout(() => {
      for (const other of desk.closed ? [] : desk.reels) if (other !== desk.reel) other.load(0).catch((err: unknown) => (other.trouble = err instanceof Error ? err.message : String(err)));
    }, 250);
    definitions()
      .then((w) => (desk.words = w))
      .catch(() => {});
    void desk.look();
    void desk.lookBack();
    return desk;
  }

  /** Asks what the corrections that were here before have changed; the answers to new ones tell of all. */
  private async lookBack(): Promise<void> {
    const from = this.edits;
    if (from.landmarks.length + from.swaps.length + from.placed.length + from.removed.length === 0) {
      this.compared = true;
      return;
    }
    const out = await tryOut(this.id, this.index, from, new AbortController().signal).catch(() => null);
    if (!out || this.closed || this.compared || this.edits !== from) return;
    this.since = out.since.map(changeHere);
    this.compared = true;
  }

  close(): void {
    this.settle();
    this.closed = true;
    clearTimeout(this.looking);
    clearTimeout(this.refining);
    clearTimeout(this.aging);
    this.asked?.abort();
    this.finer?.abort();
    this.reels.forEach((r) => r.close());
  }

  get reel(): Reel {
    return this.reels[this.index]!;
  }

  get clip(): Clip {
    return this.reel.clip;
  }

  /** The file's frame of the sample on show. */
  get fileFrame(): number {
    return this.clip.first_frame + this.reel.shown;
  }

  // The point in hand.

  /** Where a landmark is drawn in the frame on show; null where it is not seen. */
  spot(landmark: string): Spot | null {
    const track = this.reel.track;
    const i = track?.landmarks.indexOf(landmark) ?? -1;
    const frame = this.reel.shown;
    if (landmark === this.held && this.hand && this.handFrame === frame) return this.hand;
    if (this.going && this.going.landmark === landmark && this.going.frame === frame) return this.going.spot;
    const x = track?.x[i]?.[frame];
    const y = track?.y[i]?.[frame];
    return x == null || y == null ? null : { x, y };
  }

  take(landmark: string): void {
    if (landmark === this.held) return;
    this.settle();
    this.held = landmark;
  }

  letGo(): void {
    this.settle();
    this.held = "";
  }

  /** The next point along the body, of those drawn. */
  step(by: 1 | -1): void {
    const all = this.points;
    if (!all.length) return;
    const at = all.indexOf(this.held);
    this.take(all[at < 0 ? (by > 0 ? 0 : all.length - 1) : (at + by + all.length) % all.length]!);
  }

  /** The points that can be corrected, in order down the body. */
  get points(): string[] {
    const drawn = new Set((this.reel.track?.bones ?? []).flat());
    const order = ["shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"];
    const rank = (name: string) => order.findIndex((o) => name.endsWith(o)) + (name.startsWith("right") ? 100 : 0);
    const near = this.clip.view === "right" ? (n: string) => (rank(n) + 100) % 200 : rank;
    return (this.reel.track?.landmarks ?? []).filter((n) => drawn.has(n) && order.some((o) => n.endsWith(o))).sort((a, b) => near(a) - near(b));
  }

  /** Shows the point in hand elsewhere; `keep` settles it at once, else after a rest. */
  moveTo(spot: Spot): void {
    if (!this.held) return;
    this.reel.pause();
    this.handFrame = this.reel.shown;
    this.hand = { x: Math.round(spot.x * 100) / 100, y: Math.round(spot.y * 100) / 100 };
    this.try(this.asPlaced(this.hand));
  }

  /** The point in hand, placed in the frame where it is moved. */
  private asPlaced({ x, y }: Spot): (e: Edits) => Edits {
    const move = { landmark: this.held, frame: this.clip.first_frame + this.handFrame, x, y, blend: this.blend, error_px: placingError(this.screen) };
    return (e) => placed(e, move);
  }

  nudge(dx: number, dy: number): void {
    const at = this.spot(this.held);
    if (!at) return;
    this.moveTo({ x: at.x + dx, y: at.y + dy });
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.settle(), gather);
  }

  /** Keeps where the point in hand was moved to. */
  settle(): void {
    clearTimeout(this.timer);
    const spot = this.hand;
    if (!spot || !this.held) return;
    const landmark = this.held;
    const change = this.asPlaced(spot);
    this.going = { landmark, frame: this.handFrame, spot };
    this.hand = null;
    void this.keep(bench.deeds.moved(bench.pointName(landmark), this.clip.first_frame + this.handFrame, this.blend), change);
  }

  /** Puts the point in hand back to where it was found. */
  original(): void {
    clearTimeout(this.timer);
    this.hand = null;
    const landmark = this.held;
    const frame = this.fileFrame;
    this.stand();
    if (!this.edits.landmarks.some((m) => m.landmark === landmark && m.frame === frame)) return;
    void this.keep(bench.deeds.original(bench.pointName(landmark), frame), (e) => unplaced(e, landmark, frame));
  }

  /** The landmarks placed by hand in a frame of the file. */
  placedIn(frame: number): string[] {
    return this.edits.landmarks.filter((m) => m.frame === frame).map((m) => m.landmark);
  }

  widen(by: number): void {
    this.blend = clamp(this.blend + by, 0, mostBlend);
  }

  // Exchanges and contacts.

  /** Shows what an exchange would change. */
  tryExchange(from: number, to: number, parts: readonly Part[]): void {
    this.try((e) => exchanged(e, from, to, parts));
  }

  exchange(from: number, to: number, parts: readonly Part[]): void {
    this.settle();
    const word = parts.length > 1 ? bench.tools.both : bench.tools[parts[0]!];
    void this.keep(bench.deeds.exchanged(word, from, to), (e) => exchanged(e, from, to, parts));
    this.begun = -1;
  }

  private frameOf(timeS: number): number {
    return this.clip.first_frame + this.sampleOf(timeS);
  }

  private sampleOf(timeS: number): number {
    const clock = this.reel.track?.time_s ?? [];
    const i = clock.findIndex((t) => t >= timeS - 1e-6);
    return i < 0 ? clock.length - 1 : i;
  }

  /** Shows what a contact moved so would change. */
  tryContact(old: Contact, now: Contact): void {
    this.try((e) => contactMoved(e, old, now), true);
  }

  moveContact(old: Contact, now: Contact, edge: Edge): void {
    const at = this.frameOf(edge === "ic" ? now.initial_contact_s : now.toe_off_s);
    void this.keep(bench.deeds.contactMoved(bench.foot(old.side), edge, at), (e) => contactMoved(e, old, now));
  }

  removeContact(c: Contact): void {
    void this.keep(bench.deeds.contactRemoved(bench.foot(c.side), this.frameOf(c.initial_contact_s)), (e) => contactRemoved(e, c));
  }

  addContact(side: "left" | "right"): void {
    const clock = this.reel.track?.time_s ?? [];
    const c = contactFrom(this.reel.contacts, side, this.reel.timeS, clock[clock.length - 1] ?? 0);
    if (!c) {
      this.trouble = bench.strip.taken;
      return;
    }
    void this.keep(bench.deeds.contactAdded(bench.foot(side), this.fileFrame), (e) => contactAdded(e, c));
  }

  // Keeping.

  private async keep(what: string, change: (e: Edits) => Edits): Promise<void> {
    // What is tried but is not to be kept need not be answered any more.
    if (this.tried && (this.under || this.tried.what !== told(change(this.edits)))) this.tried.stop.abort();
    await this.send(() => {
      const e = change(this.edits);
      return correct(this.id, this.index, what, e, this.ahead === told(e));
    }, what);
  }

  takeBack(): void {
    this.settle();
    this.tried?.stop.abort();
    void this.send(() => undo(this.id, this.index), "", bench.tookBack);
  }

  doAgain(): void {
    this.settle();
    this.tried?.stop.abort();
    void this.send(() => redo(this.id, this.index), "", bench.didAgain);
  }

  /** Shows what a change would change, one after the other; of those that come meanwhile, the last. */
  private try(change: (e: Edits) => Edits, gripped = false): void {
    this.lookLater();
    this.next = { change, gripped };
    this.tryNext();
  }

  private tryNext(): void {
    if (this.next && !this.trying && !this.under) this.trying = this.tryAll();
    this.holdPictures();
  }

  /** A correction comes before pictures that may be asked for later. */
  private holdPictures(): void {
    for (const reel of this.reels) reel.hold(this.under > 0 || !!this.trying);
  }

  private async tryAll(): Promise<void> {
    try {
      for (let next = this.next; next && !this.under; next = this.next) {
        this.next = null;
        const from = this.edits;
        const e = next.change(from);
        this.tried = { what: told(e), stop: new AbortController() };
        const out = await tryOut(this.id, this.index, e, this.tried.stop.signal);
        // Put down, or other corrections came to be kept.
        if (this.closed || this.edits !== from || this.stood) break;
        this.settled ??= { session: this.session, changed: this.changed, since: this.since, compared: this.compared, track: this.reel.track, coarse: this.coarse };
        this.show(out, this.settled.track, this.settled.session, next.gripped);
        this.ahead = this.tried.what;
        this.tries++;
      }
    } catch {
      // A place that cannot be measured is refused when it is to be kept.
    } finally {
      this.trying = this.tried = null;
      this.stood = false;
      this.tryNext();
    }
  }

  /** Nothing is tried any more: shows what is kept. */
  stand(): void {
    this.next = null;
    this.stood = !!this.trying;
    const was = this.settled;
    this.settled = null;
    this.ahead = "";
    if (!was) return;
    this.changed = was.changed;
    this.since = was.since;
    this.compared = was.compared;
    if (!this.compared) void this.lookBack();
    this.adopt(was.session);
    this.reel.track = was.track;
    this.coarse = was.coarse;
  }

  /** Sends one thing after the other, so that each builds on the answer before. */
  private send(ask: () => Promise<Kept | Corrected>, what: string, said = (w: string) => w): Promise<void> {
    this.under++;
    this.holdPictures();
    this.askedAt = Date.now();
    this.lookLater();
    this.next = null;
    this.chain = this.chain.then(async () => {
      try {
        await this.trying; // else what is tried could come later than what is kept, and be of yesterday
        const out = await ask();
        this.trouble = "";
        this.said = said(out.what || what);
        this.accept(out);
      } catch (err) {
        this.going = null;
        this.stand();
        if (err instanceof Stale) {
          this.trouble = bench.stale;
          await this.reread().catch(() => {});
        } else this.trouble = bench.refused(err instanceof Error ? err.message : String(err));
      } finally {
        this.under--;
        this.tryNext();
      }
    });
    return this.chain;
  }

  private accept(out: Kept | Corrected): void {
    this.edits = out.edits;
    if ("session" in out) this.show(out, this.settled ? this.settled.track : this.reel.track);
    else this.adopt(this.session); // with the contacts too, which were in hand
    this.settled = null;
    this.ahead = "";
    this.going = null;
    this.turn++;
    this.fresh = true;
    clearTimeout(this.aging);
    this.aging = setTimeout(() => (this.fresh = false), newFor);
    this.lookLater();
  }

  /** Shows an answer, which tells what is other than in `track` and, where it is given, in `before`. */
  private show(out: Effect, track: Track | null, before?: Session, gripped = false): void {
    this.changed = out.changed.map(changeHere);
    this.since = out.since.map(changeHere);
    this.compared = true;
    const session = sessionIn(prefs.units, out.session);
    const clips = session.clips ?? [];
    this.adopt(before ? { ...session, clips: before.clips!.map((c) => clips.find((other) => other.index === c.index) ?? c) } : session, gripped);
    this.coarse = !!out.track.rest || (this.settled ? this.settled.coarse : this.coarse);
    if (track) this.reel.track = patched(track, out.track, (unit) => turned(unit, prefs.units));
  }

  private adopt(session: Session, gripped = false): void {
    this.session = session;
    session.clips?.forEach((c, i) => {
      const reel = this.reels[i];
      if (reel) reel.clip = gripped && i === this.index ? { ...c, contacts: reel.clip.contacts } : c;
    });
  }

  private async reread(): Promise<void> {
    const [session, kept] = await Promise.all([result(this.id), fetchEdits(this.id, this.index)]);
    this.settled = null;
    this.ahead = "";
    this.edits = kept;
    this.changed = [];
    this.since = [];
    this.compared = false;
    void this.lookBack();
    this.adopt(sessionIn(prefs.units, session));
    await this.reel.load(this.reel.shown);
    this.coarse = false;
    void this.look();
  }

  // Frames worth checking.

  /** Someone is back at the bench: the server makes ready what it put away meanwhile, so that the first correction is answered as soon as any. */
  wake(): void {
    if (!this.closed && !this.under && Date.now() - this.askedAt > calm) void this.look();
  }

  /** Asks it once the hand rests: until then it would be for nothing, and in the way. */
  private lookLater(): void {
    this.asked?.abort();
    clearTimeout(this.looking);
    clearTimeout(this.refining);
    this.finer?.abort();
    if (this.closed) return;
    this.looking = setTimeout(() => void this.look(), rest);
    this.refining = setTimeout(() => void this.refine(), longRest);
  }

  /** Asks which frames are worth checking; the place on show keeps its place. */
  private async look(): Promise<void> {
    this.askedAt = Date.now();
    this.asked?.abort();
    const mine = (this.asked = new AbortController());
    try {
      const list = await doubts(this.id, this.index, mine.signal);
      if (mine.signal.aborted || this.closed) return;
      const was = this.place;
      const now = this.places?.[was];
      this.places = list;
      // The place on show stays, by a part of it where a correction made it another and that part
      // is still to be seen; a frame that nobody sees is not told to be on show. What is left
      // of it has its own rank.
      this.place = now ? list.findIndex((d) => keyOf(d) === keyOf(now)) : -1;
      if (now && this.place < 0) this.place = list.findIndex((d) => d.landmark === now.landmark && d.side === now.side && d.from <= this.reel.shown && this.reel.shown <= d.to);
      if (now) this.passed = this.place < 0 || this.place > was ? was - 1 : was;
      this.placesTrouble = "";
    } catch (err) {
      if (!mine.signal.aborted && !this.closed) this.placesTrouble = err instanceof Error ? err.message : String(err);
    }
  }

  /** Reads anew what an answer told but in part. Where that fails, the next rest tries again. */
  private async refine(): Promise<void> {
    if (!this.coarse || this.settled) return;
    const { signal } = (this.finer = new AbortController());
    const whole = await trackOf(this.id, this.index, signal).catch(() => null);
    if (!whole || signal.aborted || this.closed || this.settled) return;
    this.reel.track = trackIn(prefs.units, whole);
    this.coarse = false;
  }

  isLooked(d: Doubt): boolean {
    return this.looked.has(keyOf(d));
  }

  isCorrected(d: Doubt): boolean {
    const first = this.clip.first_frame;
    return this.edits.landmarks.some((m) => m.landmark === d.landmark && m.frame >= first + d.from && m.frame <= first + d.to);
  }

  /** The places not looked at yet. */
  get open(): Doubt[] {
    return (this.places ?? []).filter((d) => !this.isLooked(d));
  }

  goToPlace(i: number): void {
    const d = this.places?.[i];
    if (!d) return;
    this.settle();
    this.place = this.passed = i;
    this.led = true;
    this.reel.pause();
    this.reel.go(d.frame);
    this.held = d.landmark;
  }

  nextPlace(by: 1 | -1): void {
    const list = this.places ?? [];
    const from = by > 0 ? this.passed : this.place < 0 ? this.passed + 1 : this.place;
    const order = list.map((_, k) => (((from + by * (k + 1)) % list.length) + list.length) % list.length);
    const open = order.filter((i) => !this.isLooked(list[i]!));
    const next = open.find((i) => i !== this.place) ?? open[0];
    if (next !== undefined) return this.goToPlace(next);
    this.place = this.passed = -1;
    this.led = false;
  }

  /** Says that the place on show is right, and goes on. */
  itIsRight(): void {
    const d = this.places?.[this.place];
    if (d) this.looked = new Set([...this.looked, keyOf(d)]);
    this.nextPlace(1);
  }

  jump(by: 1 | -1, which: "initial_contact_s" | "toe_off_s"): void {
    const track = this.reel.track;
    const to = track && momentFrame(this.reel.contacts, track.time_s, this.reel.wanted, by, which);
    if (to != null) this.go(to);
  }

  go(frame: number): void {
    this.settle();
    this.reel.pause();
    this.reel.go(frame);
  }
}

/** What corrections are, to compare them by. */
const told = (e: Edits) => JSON.stringify([e.version, e.landmarks, e.swaps, e.placed, e.removed]);

const keyOf = (d: Doubt) => `${d.reason} ${d.landmark || d.side} ${d.from}`;

function changeHere(c: Change): Change {
  const to = turned(c.unit, prefs.units);
  if (!to) return c;
  const f = (v: number | null) => (v === null ? null : v * to.factor);
  return { ...c, unit: to.unit, decimals: Math.max(0, c.decimals + to.decimals), before: f(c.before), after: f(c.after), sem: f(c.sem) };
}
