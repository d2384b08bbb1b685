import { describe, expect, it, vi } from "vitest";
import { Footfalls } from "../src/live/footfalls";
import { clickLoop, tapRate, watchClick, type Spread } from "../../internal/handout/page/click.js";

/** The sound of running: thuds of noise, the left ones louder, over a humming belt. */
function running(perMin: number, seconds: number, rate: number, uneven = 0.5, noise = 0.02, seed = 7, late = 0.006): Float32Array {
  const out = new Float32Array(seconds * rate);
  const random = () => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 1073741824 - 1);
  for (let i = 0; i < out.length; i++) out[i] = noise * random() + 0.1 * Math.sin((2 * Math.PI * 50 * i) / rate);
  const step = 60 / perMin;
  for (let k = 0; k * step < seconds; k++) {
    const at = Math.round((k * step + late * random()) * rate);
    const loud = k % 2 ? uneven : 1;
    for (let i = 0; i < 0.06 * rate && at + i < out.length; i++) if (at + i >= 0) out[at + i]! += loud * 0.5 * random() * Math.exp(-i / (0.015 * rate));
  }
  return out;
}

describe("footfalls", () => {
  for (const perMin of [140, 152, 160, 167, 175, 182, 190, 204])
    for (const uneven of [1, 0.5, 0.3])
      it(`${perMin} a minute, one foot ${uneven} as loud`, () => {
        const f = new Footfalls(16000);
        const sound = running(perMin, 10, 16000, uneven);
        for (let i = 0; i < sound.length; i += 2048) f.push(sound.subarray(i, i + 2048));
        expect(f.heard()!.perMin).toBeGreaterThan(perMin - 1);
        expect(f.heard()!.perMin).toBeLessThan(perMin + 1);
        expect(f.heard()!.error).toBeLessThan(3);
      });
  it("states an error that holds", () => {
    let within = 0;
    let all = 0;
    let widest = 0;
    for (let seed = 1; seed <= 12; seed++)
      for (const perMin of [151, 166, 183]) {
        const f = new Footfalls(16000);
        f.push(running(perMin, 9, 16000, 0.6, 0.04, seed, 0.02));
        const h = f.heard();
        if (!h) continue;
        all++;
        widest = Math.max(widest, h.error);
        if (Math.abs(h.perMin - perMin) <= h.error) within++;
      }
    console.log(`footfalls: ${within} of ${all} rates within the stated error, the widest ± ${widest.toFixed(1)}`);
    expect(all).toBeGreaterThan(30);
    expect(within / all).toBeGreaterThan(0.9);
    expect(widest).toBeLessThan(5);
  });
  it("says nothing of noise, silence or too little", () => {
    const noise = new Footfalls(16000);
    noise.push(running(160, 10, 16000, 0).map(() => 0));
    expect(noise.heard()).toBeNull();
    const early = new Footfalls(16000);
    early.push(running(160, 2, 16000));
    expect(early.heard()).toBeNull();
    const hiss = new Footfalls(16000);
    let seed = 11;
    hiss.push(Float32Array.from({ length: 160000 }, () => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 1073741824 - 1) * 0.3));
    expect(hiss.heard()).toBeNull();
  });
});

// Sounds of a studio, of our own making, ten seconds at 16 kHz.
const hz = 16000;
type Random = () => number;
const dice = (seed: number): Random => () => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 1073741824 - 1);
const bell = (r: Random) => Array.from({ length: 12 }, r).reduce((a, b) => a + b / 2, 0);
const quiet = (r: Random, hiss = 0.02) => Float32Array.from({ length: 10 * hz }, () => hiss * r());
const put = (o: Float32Array, at: number, seconds: number, wave: (i: number) => number) => {
  const a = Math.round(at * hz);
  for (let i = 0; i < seconds * hz && a + i < o.length; i++) if (a + i >= 0) o[a + i]! += wave(i);
};
const thud = (o: Float32Array, at: number, loud: number, fades: number, r: Random, long = 0.06) => put(o, at, long, (i) => loud * r() * Math.exp(-i / (fades * hz)));
const tone = (o: Float32Array, at: number, pitch: number, loud: number, fades: number) => put(o, at, 4 * fades, (i) => loud * Math.sin((2 * Math.PI * pitch * i) / hz) * Math.exp(-i / (fades * hz)));
/** Legs: each step as long as the one before but for 1.2 %, its sound a few milliseconds off. */
function runner(o: Float32Array, perMin: number, loud: number, r: Random, from = 0, differ = 0.012) {
  for (let t = from, k = 0; t < 10; t += (60 / perMin) * (1 + differ * bell(r)), k++) thud(o, t + 0.003 * bell(r), loud * (k % 2 ? 0.7 : 1), 0.015, r);
  return o;
}
/** Four beats to the bar: drum, clap, two high strokes a beat, a tune. */
function music(o: Float32Array, bpm: number, loud: number, r: Random) {
  const b = 60 / bpm;
  for (let k = 0, t = 0.13; t < 10; k++, t += b) {
    if (k % 2) thud(o, t, 0.7 * loud, 0.04, r, 0.15);
    else {
      tone(o, t, 60, loud, 0.08);
      thud(o, t, 0.3 * loud, 0.004, r, 0.02);
    }
    for (const h of [0, 0.5]) thud(o, t + h * b, 0.35 * loud, 0.01, r, 0.04);
    tone(o, t, [220, 262, 330, 294][k % 4]!, 0.4 * loud, 0.3);
  }
  return o;
}
/** Syllables, some of them after a pause. */
function talk(o: Float32Array, loud: number, r: Random) {
  for (let t = 0.1; t < 10; ) {
    const long = 0.12 + 0.12 * Math.abs(r());
    const pitch = 110 + 40 * r();
    put(o, t, long, (i) => loud * Math.sqrt(Math.sin(Math.min(Math.PI, (Math.PI * i) / (long * hz)))) * (Math.sin((2 * Math.PI * pitch * i) / hz) + 0.3 * r()));
    t += long + (Math.abs(r()) < 0.25 ? 0.25 + 0.3 * Math.abs(r()) : 0.02 + 0.03 * Math.abs(r()));
  }
  return o;
}
/** A belt that hums and whose seam knocks. */
function belt(o: Float32Array, each: number, loud: number, r: Random) {
  for (let i = 0; i < o.length; i++) o[i]! += 0.1 * Math.sin((2 * Math.PI * 50 * i) / hz) + 0.05 * Math.sin((2 * Math.PI * 317 * i) / hz);
  for (let t = 0.2; t < 10; t += each) thud(o, t, loud, 0.02, r);
  return o;
}
const ticks = (o: Float32Array, perMin: number, loud: number) => {
  for (let t = 0.1; t < 10; t += 60 / perMin) tone(o, t, 1000, loud, 0.01);
  return o;
};

describe("a studio's noise gives no wrong figure", () => {
  // What is heard, the runner's rate or null for nobody, and how many of four are to be read at least.
  const cases: [string, number | null, number, (r: Random) => Float32Array][] = [
    ["a runner alone", 165, 4, (r) => runner(quiet(r), 165, 0.5, r)],
    ["a very even runner", 172, 4, (r) => runner(quiet(r), 172, 0.5, r, 0, 0.008)],
    ["a runner in loud hiss", 165, 4, (r) => runner(quiet(r, 0.2), 165, 0.5, r)],
    ["a runner on a belt whose seam knocks as loud as the feet", 165, 3, (r) => runner(belt(quiet(r), 1.07, 0.5, r), 165, 0.5, r)],
    ["a runner and quiet talk", 165, 4, (r) => runner(talk(quiet(r), 0.1, r), 165, 0.5, r)],
    ["a runner and loud talk", 165, 0, (r) => runner(talk(quiet(r), 0.3, r), 165, 0.5, r)],
    ["a belt that ticks, nobody on it", null, 0, (r) => belt(quiet(r), 0.36, 0.3, r)],
    ["talk, nobody runs", null, 0, (r) => talk(quiet(r), 0.3, r)],
    ...[90, 120, 160, 174].map((bpm): [string, number | null, number, (r: Random) => Float32Array] => [`music of ${bpm}, nobody runs`, null, 0, (r) => music(quiet(r), bpm, 0.4, r)]),
    ...[100, 150, 160].map((bpm): [string, number | null, number, (r: Random) => Float32Array] => [`a runner and loud music of ${bpm}`, 165, 0, (r) => runner(music(quiet(r), bpm, 0.6, r), 165, 0.5, r)]),
    ["a click from the loudspeaker, nobody runs", null, 0, (r) => ticks(quiet(r), 160, 0.5)],
    ["a runner and another rate's click", 165, 0, (r) => runner(ticks(quiet(r), 172, 0.6), 165, 0.5, r)],
    ...[162, 159, 145].map((other): [string, number | null, number, (r: Random) => Float32Array] => [`two runners, 165 and ${other}`, 165, 0, (r) => runner(runner(quiet(r), 165, 0.5, r, 0.05), other, 0.5, r, 0.2)]),
  ];
  for (const [name, truth, least, make] of cases)
    it(name, () => {
      let read = 0;
      for (let seed = 1; seed <= 4; seed++) {
        const f = new Footfalls(hz);
        f.push(make(dice(7919 * seed)));
        const h = f.heard();
        if (!h) continue;
        read++;
        expect(truth, `${h.perMin} was read, and nobody runs`).not.toBeNull();
        expect(Math.abs(h.perMin - truth!), `${h.perMin} ± ${h.error}`).toBeLessThanOrEqual(Math.max(h.error, 2));
      }
      expect(read).toBeGreaterThanOrEqual(least);
    });
  it("says why", () => {
    const of = (o: Float32Array) => {
      const f = new Footfalls(hz);
      f.push(o);
      return f.heard() ? "read" : f.why;
    };
    expect(of(ticks(quiet(dice(1)), 160, 0.5))).toBe("machine");
    expect(of(runner(runner(quiet(dice(1)), 165, 0.5, dice(2), 0.05), 159, 0.5, dice(3), 0.2))).toBe("mixed");
    expect(of(quiet(dice(1)))).toBe("");
  });
});

describe("taps", () => {
  it("follow the runner and begin anew after a pause", () => {
    const taps = [0, 0.4, 0.8, 1.2].concat([10, 10.375, 10.75, 11.125, 11.5].map((t, i) => t + (i % 2 ? 0.01 : -0.01)));
    const r = tapRate(taps)!;
    expect(r.perMin).toBeCloseTo(160, 0);
    expect(r.taps).toBe(5);
    expect(tapRate([1, 1.4, 1.8])).toBeNull();
  });
});

it("a loop ends on the left foot's turn", () => expect(clickLoop(161, 48000).steps % 2).toBe(0));

it("a click that is five milliseconds late is measured as late", () => {
  vi.useFakeTimers();
  const rate = 48000;
  const sound = (late: number) => {
    const piece = new Float32Array(32768);
    piece[6000] = 0.9;
    piece[6000 + 18000 + Math.round(late * rate)] = 0.7;
    let told: Spread | null = null;
    const ear = { fftSize: 0, getFloatTimeDomainData: (to: Float32Array) => to.set(piece) };
    const ctx = { sampleRate: rate, currentTime: 10 + (32768 - 6000) / rate, createAnalyser: () => ear };
    const stop = watchClick(ctx as unknown as AudioContext, { connect() {}, disconnect() {} } as unknown as AudioNode, { start: 10 - 0.375 * 4, step: 0.375, loop: clickLoop(160, rate), stop() {} }, (m) => (told = m));
    vi.advanceTimersByTime(130);
    stop();
    return told as Spread | null;
  };
  expect(sound(0)!.worstMs).toBeCloseTo(0, 6);
  expect(sound(0.005)!.worstMs).toBeCloseTo(5, 2);
  vi.useRealTimers();
});
