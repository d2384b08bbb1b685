// Step rate from the sound of footfalls. Each footfall makes the sound rise at
// once; how often that repeats over some seconds is the step rate, whatever else
// hums meanwhile.

const hopS = 0.01;
const spanS = 8; // what is looked at
const leastS = 3; // before anything is said
const low = 0.24; // seconds of a step: 250 a minute
const high = 0.6; // 100 a minute

export interface Heard {
  /** Steps a minute, both feet. */
  perMin: number;
  /** How plainly it repeats, 0 to 1. */
  clear: number;
}

export class Footfalls {
  private rises: number[] = [];
  private levels: number[] = [];
  private sum = 0;
  private n = 0;
  private last = 0;
  private readonly hop: number;

  constructor(readonly sampleRate: number) {
    this.hop = Math.round(hopS * sampleRate);
  }

  /** Takes in what the microphone heard. */
  push(samples: Float32Array): void {
    for (const x of samples) {
      // The difference of neighbours leaves humming and drafts out.
      const d = x - this.last;
      this.last = x;
      this.sum += d * d;
      if (++this.n === this.hop) {
        const level = Math.log10(this.sum / this.hop + 1e-9);
        const before = this.levels.length ? this.levels.reduce((a, b) => a + b, 0) / this.levels.length : level;
        this.rises.push(Math.max(0, level - before));
        this.levels.push(level);
        if (this.levels.length > 4) this.levels.shift();
        if (this.rises.length > spanS / hopS) this.rises.shift();
        this.sum = 0;
        this.n = 0;
      }
    }
  }

  /** What repeats; null where nothing plainly does, or it is too early. */
  heard(): Heard | null {
    const x = this.rises;
    if (x.length < leastS / hopS) return null;
    const mean = x.reduce((a, b) => a + b, 0) / x.length;
    // Spread a little, so that a footfall that is a hundredth of a second late still meets the next.
    const y = x.map((_, i) => ((x[i - 1] ?? mean) + 2 * x[i]! + (x[i + 1] ?? mean)) / 4 - mean);
    const meet = (lag: number): number => {
      let s = 0;
      for (let i = lag; i < y.length; i++) s += y[i]! * y[i - lag]!;
      return s / (y.length - lag);
    };
    const all = meet(0);
    if (!(all > 0)) return null;
    const from = Math.floor(low / hopS);
    const to = Math.ceil(high / hopS);
    const found = new Map<number, number>();
    for (let lag = from - 1; lag <= to + 1; lag++) found.set(lag, meet(lag) / all);
    const peaks: number[] = [];
    for (let lag = from; lag <= to; lag++) if (found.get(lag)! > found.get(lag - 1)! && found.get(lag)! >= found.get(lag + 1)!) peaks.push(lag);
    const best = Math.max(...peaks.map((p) => found.get(p)!), -1);
    // Two steps repeat as well as one, where left and right sound alike even better: the shorter counts.
    const first = peaks.find((p) => found.get(p)! > 0.55 * best);
    if (first === undefined || best < 0.3) return null;
    // Over several steps the same error is a smaller one.
    let step: number = refine(first, meet);
    for (const k of [2, 4, 8]) {
      const about = Math.round(k * step);
      if (about > y.length / 2) break;
      let at = about;
      for (let lag = about - 2; lag <= about + 2; lag++) if (meet(lag) > meet(at)) at = lag;
      if (meet(at) / all < 0.1) break;
      step = refine(at, meet) / k;
    }
    return { perMin: 60 / (step * hopS), clear: Math.max(0, Math.min(1, found.get(first)!)) };
  }
}

/** The top of the parabola through a peak and its neighbours. */
function refine(lag: number, meet: (lag: number) => number): number {
  const a = meet(lag - 1);
  const b = meet(lag);
  const c = meet(lag + 1);
  const bend = a - 2 * b + c;
  return bend < 0 ? lag + Math.max(-0.5, Math.min(0.5, (a - c) / (2 * bend))) : lag;
}
