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
