// The click by the audio clock. One loop of whole steps is made once and repeated
// by the audio hardware's own count, so no timer of the page takes part: it goes on
// in step while the page is busy or the screen is dark.

/** Lays out a loop: an even number of steps whose length is nearest to whole samples. */
export function clickLoop(perMin, sampleRate) {
  const step = (60 * sampleRate) / perMin;
  let best = { steps: 2, length: Math.round(2 * step), off: Math.abs(2 * step - Math.round(2 * step)) / 2 };
  for (let n = 4; n <= 64; n += 2) {
    const length = Math.round(n * step);
    const off = Math.abs(n * step - length) / n;
    if (off < best.off - 1e-12) best = { steps: n, length, off };
  }
  const at = [];
  for (let k = 0; k < best.steps; k++) at.push(Math.round(k * step));
  // Seconds by which an hour is off.
  return { steps: best.steps, length: best.length, at, driftS: (best.off * perMin * 60) / sampleRate };
}

/** One click: a short tone with a sharp beginning. */
export function clickVoice(kind, sampleRate) {
  const hz = { low: 784, high: 1175, count: 1760 }[kind];
  const loud = kind === "low" ? 0.95 : 0.75;
  const out = new Float32Array(Math.round(0.045 * sampleRate));
  for (let i = 0; i < out.length; i++) {
    const t = i / sampleRate;
    out[i] = loud * Math.exp(-t / 0.009) * Math.cos(2 * Math.PI * hz * t);
  }
  return out;
}

/** Minutes with and without the click, as seconds from the first step: [from, to) with it. */
export function clickBlocks(minutes, onMin, offMin) {
  const end = minutes * 60;
  if (!(offMin > 0) || !(onMin > 0)) return [[0, end]];
  const out = [];
  for (let t = 0; t < end; t += (onMin + offMin) * 60) out.push([t, Math.min(end, t + onMin * 60)]);
  return out;
}

/**
 * Lays the click of a whole run into an audio context (or an offline one).
 * Returns when step 0 sounds, on the context's clock, and how to stop.
 */
export function layClick(ctx, to, { perMin, minutes, onMin = 0, offMin = 0, countIn = 8, accent = "left" }, begin) {
  const rate = ctx.sampleRate;
  const loop = clickLoop(perMin, rate);
  const step = 60 / perMin;
  const low = clickVoice("low", rate);
  const high = clickVoice("high", rate);
  const buffer = ctx.createBuffer(1, loop.length, rate);
  const samples = buffer.getChannelData(0);
  loop.at.forEach((at, k) => {
    const left = k % 2 === 0;
    samples.set((left === (accent !== "right") ? low : high).subarray(0, loop.length - at), at);
  });
  const gain = ctx.createGain();
  gain.connect(to);
  const source = ctx.createBufferSource();
  source.buffer = buffer;
  source.loop = true;
  source.connect(gain);
  // On a whole sample, so that nothing is interpolated.
  const start = Math.ceil((begin + countIn * step) * rate) / rate;
  const nodes = [source];
  if (countIn > 0) {
    const voice = ctx.createBuffer(1, low.length, rate);
    voice.getChannelData(0).set(clickVoice("count", rate));
    for (let k = 0; k < countIn; k++) {
      const one = ctx.createBufferSource();
      one.buffer = voice;
      one.connect(to);
      one.start(Math.round((start - (countIn - k) * step) * rate) / rate);
      nodes.push(one);
    }
  }
  gain.gain.setValueAtTime(0, 0);
  for (const [from, until] of clickBlocks(minutes, onMin, offMin)) {
    // Half a step early, so that no click is cut.
    gain.gain.setValueAtTime(1, Math.max(0, start + from - step / 2));
    gain.gain.setValueAtTime(0, start + until - step / 2);
  }
  source.start(start);
  source.stop(start + minutes * 60);
  return {
    start,
    step,
    loop,
    source,
    stop() {
      for (const n of nodes) {
        try {
          n.stop();
        } catch {
          // it had not begun
        }
        n.disconnect();
      }
      gain.disconnect();
    },
  };
}

/**
 * Listens to what is really played, in pieces of the sound as it leaves: how far
 * apart the clicks are, counted in samples, against how far they should be. No clock
 * of the page takes part. tell gets { n, worstMs, sdMs } after each click.
 */
export function watchClick(ctx, from, laid, tell) {
  const ear = ctx.createAnalyser();
  ear.fftSize = 32768;
  from.connect(ear);
  const piece = new Float32Array(ear.fftSize);
  const rate = ctx.sampleRate;
  const off = [];
  let last = 0; // the number of the step heard last
  const listen = () => {
    const now = ctx.currentTime;
    ear.getFloatTimeDomainData(piece);
    const at = [];
    // A click counts where silence before it was heard.
    let quiet = 0;
    for (let i = 0; i < piece.length; i++) {
      if (Math.abs(piece[i]) > 0.3) {
        if (quiet > 0.06 * rate) at.push(i);
        quiet = 0;
      } else quiet++;
    }
    for (let j = 1; j < at.length; j++) {
      const k = Math.round((now - (piece.length - at[j]) / rate - laid.start) / laid.step);
      if (k <= Math.max(1, last)) continue;
      last = k;
      off.push((at[j] - at[j - 1]) / rate - laid.step);
      if (off.length > 240) off.shift();
      tell(spread(off));
    }
  };
  const timer = setInterval(listen, 120);
  return () => {
    clearInterval(timer);
    from.disconnect(ear);
  };
}

/** How far from nothing: of the worst, and the standard deviation about zero. */
export function spread(off) {
  let sum = 0;
  let worst = 0;
  for (const o of off) {
    sum += o * o;
    worst = Math.max(worst, Math.abs(o));
  }
  return { n: off.length, worstMs: worst * 1000, sdMs: Math.sqrt(sum / off.length) * 1000 };
}

/** Step rate of taps, one for each step; times in seconds. Null before four. */
export function tapRate(times) {
  const now = times[times.length - 1];
  let taps = times.slice(-24);
  // A pause begins anew.
  for (let i = taps.length - 1; i > 0; i--) if (taps[i] - taps[i - 1] > 2) { taps = taps.slice(i); break; }
  if (taps.length < 4 || now === undefined) return null;
  const n = taps.length - 1;
  // The line through the taps: a late finger at one end does not tilt it much.
  const mid = n / 2;
  const mean = taps.reduce((a, b) => a + b, 0) / taps.length;
  let up = 0;
  let down = 0;
  taps.forEach((t, i) => {
    up += (i - mid) * (t - mean);
    down += (i - mid) ** 2;
  });
  const step = up / down;
  let rest = 0;
  taps.forEach((t, i) => (rest += (t - mean - step * (i - mid)) ** 2));
  const sem = n > 1 ? Math.sqrt(rest / (n - 1) / down) : NaN;
  const perMin = 60 / step;
  return { perMin, sem: (perMin * sem) / step, taps: taps.length };
}
