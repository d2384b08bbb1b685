// One clip on show: which frame is wanted, which is shown. Picture, skeleton,
// curves and numbers all follow the frame shown, so they never disagree.
import { track, type Clip, type Contact, type Track } from "../api";
import { clamp, frameOnShow } from "../logic/clock";
import { momentFrame, type Moment } from "../logic/contacts";
import { trackIn } from "../logic/convert";
import { fitted, type Lens } from "../logic/lens";
import { prefs } from "../prefs.svelte";
import { Film } from "./film";

export const rates = [0.125, 0.25, 0.5, 1] as const;
/** The bounds of any other rate. */
export const slowest = 0.01;
export const fastest = 4;

const none: Contact[] = [];

export class Reel {
  /** Replaced as a whole where the clip was corrected. */
  clip: Clip;
  track = $state.raw<Track | null>(null);
  wanted = $state(0);
  shown = $state(0);
  picture = $state.raw<ImageBitmap | null>(null);
  trouble = $state("");
  playing = $state(false);
  lens = $state.raw<Lens>(fitted);
  /** Whether the picture has had its first place in the pane. */
  placed = false;

  private film: Film | null;
  private step = 1; // in which direction, and by how many frames, it last moved
  private raf = 0;
  private later: ReturnType<typeof setTimeout> | undefined;

  constructor(
    readonly id: string,
    clip: Clip,
  ) {
    this.clip = $state.raw(clip);
    this.film = clip.video
      ? new Film(
          id,
          clip.index,
          clip.width_px,
          clip.height_px,
          (frame, picture) => frame === this.wanted && this.show(frame, picture),
          (frame, sentence) => frame === this.wanted && (this.trouble = sentence),
        )
      : null;
  }

  /** Fetches the track, unless it is on its way. */
  async load(frame: number, coming = track(this.id, this.clip.index)): Promise<void> {
    this.track = trackIn(prefs.units, await coming);
    this.go(frame);
  }

  close(): void {
    this.pause();
    clearTimeout(this.later);
    this.film?.close();
  }

  /** Pictures that nobody has asked for yet wait while something else is worked out. */
  hold(on: boolean): void {
    this.film?.hold(on);
  }

  get contacts(): Contact[] {
    return this.clip.contacts ?? none;
  }

  get frames(): number {
    return this.track ? this.track.time_s.length : this.clip.frames;
  }

  get timeS(): number {
    return this.track?.time_s[this.shown] ?? 0;
  }

  /** Goes to a frame. The one on show stays until the wanted one is here. */
  go(frame: number): void {
    const to = clamp(Math.round(frame), 0, Math.max(0, this.frames - 1));
    if (to !== this.wanted) this.step = to - this.wanted;
    this.wanted = to;
    if (!this.film) {
      this.shown = to;
      return;
    }
    const picture = this.film.at(to);
    if (picture) {
      this.show(to, picture);
      // What comes next is asked for once this one is drawn.
      clearTimeout(this.later);
      this.later = setTimeout(() => this.wanted === to && this.film?.need(this.ahead(to)));
      return;
    }
    if (!this.picture) this.shown = to;
    this.film.need(this.ahead(to));
  }

  move(by: number): void {
    this.pause();
    this.go(this.wanted + by);
  }

  jump(by: 1 | -1, which: Moment): void {
    this.pause();
    if (!this.track) return;
    const to = momentFrame(this.contacts, this.track.time_s, this.wanted, by, which);
    if (to !== null) this.go(to);
  }

  play(rate: () => number): void {
    if (!this.track || this.playing) return;
    const clock = this.track.time_s;
    const last = clock.length - 1;
    if (this.wanted >= last) this.go(0);
    this.playing = true;
    let before = performance.now();
    let at = clock[this.wanted]!;
    const turn = (now: number) => {
      if (!this.playing) return;
      // Where a picture is late the clip waits for it: no frame is shown with
      // another's skeleton, and none is passed by that there was time to show.
      if (this.shown === this.wanted || this.trouble) at += Math.min(1, (now - before) / 1000) * rate();
      before = now;
      const frame = frameOnShow(clock, at);
      if (frame !== this.wanted) this.go(frame);
      if (frame >= last) {
        this.playing = false;
        return;
      }
      this.raf = requestAnimationFrame(turn);
    };
    this.raf = requestAnimationFrame(turn);
  }

  /** Stops at the frame on show. */
  pause(): void {
    cancelAnimationFrame(this.raf);
    if (this.playing) this.wanted = this.shown;
    this.playing = false;
  }

  private show(frame: number, picture: ImageBitmap): void {
    if (this.film) this.film.holding = frame;
    this.picture = picture;
    this.shown = frame;
    this.trouble = "";
  }

  /** The wanted frame, then its neighbours in the direction of travel, then a few behind. */
  private ahead(frame: number): number[] {
    const out = [frame];
    const forward = this.step >= 0 ? 1 : -1;
    const stride = this.playing ? clamp(Math.abs(this.step), 1, 8) : 1;
    const reach = this.film?.reach ?? 0;
    for (let i = 1; i <= reach; i++) {
      out.push(frame + forward * i * stride);
      if (i <= 3) out.push(frame - forward * i * stride);
    }
    return out.filter((f) => f >= 0 && f < this.frames);
  }
}
