// Step rate from the sound of footfalls. Each footfall makes the sound rise at
// once; how often that repeats over some seconds is the step rate, whatever else
// hums meanwhile. Where it repeats is read in every stride, so that the reading has an
// error. Two things repeat and are no feet of one runner, and then nothing is said: a
// beat more even than legs are, as of a click, music or a belt, and more rises than
// those on the beat, as of two runners or of music.

const fineS = 0.002; // of a rise's own time
const fines = 5; // in a hop
const spanS = 8; // what is looked at
const leastS = 3; // before anything is said
const low = 0.24; // seconds of a step: 250 a minute
const high = 0.6; // 100 a minute

const mostError = 5; // steps a minute; a rate known worse is no help
// Running on a belt each stride differs from the next by 1 % or so (Jordan, Challis
// and Newell 2007, Hum Mov Sci, from memory); what differs by less than this is a machine.
const mostEven = 0.003;
const beside = 0.12; // of a step: how far from the beat a rise may lie and be of it
const mostStray = 0.28; // of the rises may lie elsewhere

export interface Heard {
  /** Steps a minute, both feet. */
  perMin: number;
  /** In 95 of 100 the rate of these seconds is within so much of it. */
  error: number;
  /** How plainly it repeats, 0 to 1. */
  clear: number;
}

/** Why there is no reading: nothing repeats plainly yet, a machine is heard, or more than one beat. */
export type Unheard = "" | "machine" | "mixed";

export class Footfalls {
  /** Why heard gave nothing the last time. */
  why: Unheard = "";
  private fine: number[] = [];
  private part = 0;
  private rises: number[] = [];
  private levels: number[] = [];
  private sum = 0;
  private n = 0;
  private last = 0;
  private readonly bit: number; // samples
  private readonly hopS: number;

  constructor(readonly sampleRate: number) {
    this.bit = Math.round(fineS * sampleRate);
    this.hopS = (fines * this.bit) / sampleRate;
  }

  /** Takes in what the microphone heard. */
  push(samples: Float32Array): void {
    for (const x of samples) {
      // The difference of neighbours leaves humming and drafts out.
      const d = x - this.last;
      this.last = x;
      this.sum += d * d;
      if (++this.n < this.bit) continue;
      this.fine.push(this.sum / this.bit);
      this.sum = 0;
      this.n = 0;
      if (++this.part < fines) continue;
      this.part = 0;
      const level = Math.log10(this.fine.slice(-fines).reduce((a, b) => a + b, 0) / fines + 1e-9);
      const before = this.levels.length ? this.levels.reduce((a, b) => a + b, 0) / this.levels.length : level;
      this.rises.push(Math.max(0, level - before));
      this.levels.push(level);
      if (this.levels.length > 4) this.levels.shift();
      if (this.rises.length > spanS / this.hopS) {
        this.rises.shift();
        this.fine.splice(0, fines);
      }
    }
  }

  /** What repeats; null where nothing plainly does, or it is too early. */
  heard(): Heard | null {
    const x = this.rises;
    const hopS = this.hopS;
    this.why = "";
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
    const beat = follow(y, hopS, 1 / (refine(first, meet) * hopS));
    if (!beat || beat.error > mostError) return null;
    this.why = this.strange(beat.perMin / 60, beat.phase);
    if (this.why) return null;
    return { perMin: beat.perMin, error: beat.error, clear: Math.max(0, Math.min(1, found.get(first)!)) };
  }

  /** Whether the beat is not that of one runner's feet. phase is where the rises lie in it, in steps. */
  private strange(hz: number, phase: (s: number) => number): Unheard {
    const x = this.rises;
    const apart = 8; // hops; what is nearer is one rise
    const tops: number[] = [];
    for (let i = 1; i < x.length - 1; i++) {
      let top = x[i]! > 0;
      for (let k = Math.max(0, i - apart); top && k <= Math.min(x.length - 1, i + apart); k++) top = k < i ? x[k]! < x[i]! : x[k]! <= x[i]!;
      if (top) tops.push(i);
    }
    const steps = x.length * this.hopS * hz;
    const high = tops.map((i) => x[i]!).sort((a, b) => b - a)[Math.floor(steps / 2)] ?? 0;
    const onsets = tops.filter((i) => x[i]! > Math.max(0.25, 0.4 * high)).map((i) => this.riseS(i));
    const at = onsets.map((s) => s * hz - phase(s));
    const on = onsets.flatMap((s, k) => (Math.abs(at[k]! - Math.round(at[k]!)) <= beside ? [{ s, n: Math.round(at[k]!) }] : []));
    const strides: number[] = [];
    for (let k = 0; k < on.length; k++) for (let j = k + 1; j < on.length && on[j]!.n <= on[k]!.n + 2; j++) if (on[j]!.n === on[k]!.n + 2) strides.push(on[j]!.s - on[k]!.s);
    if (strides.length >= 6 && even(strides) < mostEven) return "machine";
    return onsets.length - on.length > mostStray * onsets.length ? "mixed" : "";
  }

  /** When the rise about hop i sets in, seconds. */
  private riseS(i: number): number {
    let best = -1;
    let at = i * fines;
    for (let k = Math.max(fines, (i - 2) * fines); k < Math.min(this.fine.length, (i + 1) * fines); k++) {
      let before = 1e-9;
      for (let j = 1; j <= fines; j++) before += this.fine[k - j]! / fines;
      const up = Math.log10((this.fine[k]! + 1e-9) / before);
      if (up > best) {
        best = up;
        at = k;
      }
    }
    return (at * this.hopS) / fines;
  }
}

/**
 * The rate about hz, steps a second, from its phase in every stride: the phases run
 * along a line whose slope mends the rate, and their scatter about it is the error. A
 * runner's own uneven strides add to it: the slope of their sum differs from the mean
 * by a fifth of their variance over their number.
 */
function follow(y: readonly number[], hopS: number, hz: number): { perMin: number; error: number; phase: (s: number) => number } | null {
  let error = Infinity;
  let phase = (_: number): number => 0;
  for (let round = 0; round < 3; round++) {
    const strides = Math.floor((y.length * hopS * hz) / 2);
    if (strides < 4) return null;
    const long = y.length / strides; // hops
    const at: number[] = [];
    const turn: number[] = [];
    const loud: number[] = [];
    for (let k = 0; k < strides; k++) {
      let c = 0;
      let s = 0;
      let all = 0;
      for (let i = Math.round(k * long); i < Math.min(y.length, Math.round((k + 1) * long)); i++) {
        const a = 2 * Math.PI * hz * i * hopS;
        c += y[i]! * Math.cos(a);
        s += y[i]! * Math.sin(a);
        all += Math.abs(y[i]!);
      }
      at.push((k + 0.5) * long * hopS);
      turn.push(Math.atan2(-s, c) / (2 * Math.PI));
      loud.push(all > 0 ? Math.hypot(c, s) / all : 0);
    }
    // A stride without plain footfalls says nothing of where its beat lies.
    const keep = at.map((_, k) => k).filter((k) => loud[k]! > 0.2);
    if (keep.length < Math.max(4, strides / 2)) return null;
    const t = keep.map((k) => at[k]!);
    const p = keep.map((k) => turn[k]!);
    for (let k = 1; k < p.length; k++) p[k]! += Math.round(p[k - 1]! - p[k]!);
    const n = t.length;
    const mt = t.reduce((a, b) => a + b, 0) / n;
    const mp = p.reduce((a, b) => a + b, 0) / n;
    let up = 0;
    let down = 0;
    t.forEach((v, k) => {
      up += (v - mt) * (p[k]! - mp);
      down += (v - mt) ** 2;
    });
    const slope = up / down;
    let rest = 0;
    t.forEach((v, k) => (rest += (p[k]! - mp - slope * (v - mt)) ** 2));
    let jump = 0;
    let next = 0;
    const d = p.slice(1).map((v, k) => v - p[k]! - slope * (t[k + 1]! - t[k]!));
    d.forEach((v, k) => {
      jump += (v * v) / d.length;
      if (k) next += (v * d[k - 1]!) / (d.length - 1);
    });
    const own = Math.sqrt(Math.max(0, jump + 2 * next) / 5 / n) / (long * hopS);
    // Student's t for few strides, a little on the wide side.
    const few = 1.96 + 2.37 / (n - 2) + 2.82 / (n - 2) ** 2 + 5.2 / (n - 2) ** 3;
    const was = hz;
    hz += slope;
    phase = (v) => (hz - was) * v - mp - slope * (v - mt);
    error = 60 * few * Math.hypot(Math.sqrt(rest / (n - 2) / down), own);
  }
  return { perMin: 60 * hz, error, phase };
}

/** How much lengths differ by their mean, those that differ most left out. */
function even(list: readonly number[]): number {
  const s = [...list].sort((a, b) => a - b).slice(Math.floor(list.length / 10), list.length - Math.floor(list.length / 10));
  const m = s.reduce((a, b) => a + b, 0) / s.length;
  return Math.sqrt(s.reduce((a, b) => a + (b - m) ** 2, 0) / (s.length - 1)) / m;
}

/** The top of the parabola through a peak and its neighbours. */
function refine(lag: number, meet: (lag: number) => number): number {
  const a = meet(lag - 1);
  const b = meet(lag);
  const c = meet(lag + 1);
  const bend = a - 2 * b + c;
  return bend < 0 ? lag + Math.max(-0.5, Math.min(0.5, (a - c) / (2 * bend))) : lag;
}
