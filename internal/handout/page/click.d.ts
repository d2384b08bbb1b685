export interface ClickLoop { steps: number; length: number; at: number[]; driftS: number }
export function clickLoop(perMin: number, sampleRate: number): ClickLoop;
export function clickVoice(kind: "low" | "high" | "count", sampleRate: number): Float32Array;
export function clickBlocks(minutes: number, onMin: number, offMin: number): [number, number][];
export interface Laid { start: number; step: number; loop: ClickLoop; stop(): void }
export interface ClickAsk { perMin: number; minutes: number; onMin?: number; offMin?: number; countIn?: number; accent?: "left" | "right" }
export function layClick(ctx: BaseAudioContext, to: AudioNode, ask: ClickAsk, begin: number): Laid;
export interface Spread { n: number; worstMs: number; sdMs: number }
export function watchClick(ctx: AudioContext, from: AudioNode, laid: Laid, tell: (s: Spread) => void): () => void;
export function spread(off: number[]): Spread;
export function tapRate(times: number[]): { perMin: number; sem: number; taps: number } | null;
