// The pictures of one clip, fetched ahead and kept decoded near the frame on
// show. The browser's own cache keeps the compressed ones.
import { framePath, saidBy } from "../api";

/** Decoded pictures kept, in bytes. */
const room = 192e6;
/** Requests under way at once; browsers allow six to one host. */
const lanes = 4;

export class Film {
  private kept = new Map<number, ImageBitmap>();
  private under = new Map<number, AbortController>();
  private failed = new Set<number>();
  private needed: number[] = [];
  /** The frame on show, whose picture is not let go. */
  holding = -1;
  private most: number;
  /** The machine has something else to do that somebody waits for. */
  private held = false;

  constructor(
    private id: string,
    private clip: number,
    width: number,
    height: number,
    private ready: (frame: number, picture: ImageBitmap) => void,
    private trouble: (frame: number, sentence: string) => void,
  ) {
    this.most = Math.max(12, Math.min(240, Math.floor(room / (Math.max(1, width * height) * 4))));
  }

  /** How many frames may be asked for ahead without pushing out the present one. */
  get reach(): number {
    return Math.min(16, Math.floor(this.most / 2));
  }

  /** The picture of a frame where it is at hand. */
  at(frame: number): ImageBitmap | null {
    const picture = this.kept.get(frame);
    if (!picture) return null;
    this.kept.delete(frame); // and to the young end
    this.kept.set(frame, picture);
    return picture;
  }

  /** Says which frames are wanted, the most urgent first. */
  need(frames: number[]): void {
    this.needed = frames;
    this.failed.clear();
    const urgent = frames[0];
    if (urgent !== undefined && !this.kept.has(urgent) && !this.under.has(urgent) && this.under.size >= lanes) {
      const wanted = new Set(frames);
      for (const [frame, request] of this.under) if (!wanted.has(frame)) request.abort();
    }
    this.pump();
  }

  /** While it is held, nothing but the most urgent frame is asked for. */
  hold(on: boolean): void {
    if (on === this.held) return;
    this.held = on;
    if (!on) this.pump();
  }

  close(): void {
    this.needed = [];
    for (const request of this.under.values()) request.abort();
    for (const picture of this.kept.values()) picture.close();
    this.kept.clear();
  }

  private pump(): void {
    for (const frame of this.held ? this.needed.slice(0, 1) : this.needed) {
      if (this.under.size >= lanes) return;
      if (!this.kept.has(frame) && !this.under.has(frame) && !this.failed.has(frame)) void this.fetch(frame);
    }
  }

  private async fetch(frame: number): Promise<void> {
    const request = new AbortController();
    this.under.set(frame, request);
    try {
      const res = await fetch(framePath(this.id, this.clip, frame), { signal: request.signal });
      if (!res.ok) throw new Error(await saidBy(res));
      const picture = await createImageBitmap(await res.blob());
      if (request.signal.aborted) {
        picture.close();
        return;
      }
      this.keep(frame, picture);
      this.ready(frame, picture);
    } catch (err) {
      if (!request.signal.aborted) {
        this.failed.add(frame);
        this.trouble(frame, err instanceof Error ? err.message : String(err));
      }
    } finally {
      this.under.delete(frame);
      this.pump();
    }
  }

  private keep(frame: number, picture: ImageBitmap): void {
    this.kept.set(frame, picture);
    const urgent = this.needed[0];
    for (const [old, gone] of this.kept) {
      if (this.kept.size <= this.most) return;
      if (old === urgent || old === frame || old === this.holding) continue;
      this.kept.delete(old);
      gone.close();
    }
  }
}
