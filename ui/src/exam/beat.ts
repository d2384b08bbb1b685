// A click at an even rate, on the clock of the sound card: a timer of the page
// alone would waver.

/** When the clicks after `from` are due, up to `to`; all in seconds. */
export function due(start: number, perMinute: number, from: number, to: number): number[] {
  const step = 60 / perMinute;
  const out: number[] = [];
  for (let n = Math.max(0, Math.ceil((from - start) / step - 1e-9)); start + n * step < to; n++) out.push(start + n * step);
  return out;
}

const ahead = 0.25; // s that are scheduled before they sound
const wake = 80; // ms between looks

/** Begins to click; call the answer to end it. */
export function beat(perMinute: number): () => void {
  const sound = new AudioContext();
  const start = sound.currentTime + 0.15;
  let done = sound.currentTime;
  const look = () => {
    const to = sound.currentTime + ahead;
    for (const at of due(start, perMinute, done, to)) {
      const tone = sound.createOscillator();
      const loud = sound.createGain();
      tone.frequency.value = 1400;
      loud.gain.setValueAtTime(0.5, at);
      loud.gain.exponentialRampToValueAtTime(0.001, at + 0.05);
      tone.connect(loud).connect(sound.destination);
      tone.start(at);
      tone.stop(at + 0.06);
    }
    done = to;
  };
  look();
  const timer = setInterval(look, wake);
  return () => {
    clearInterval(timer);
    void sound.close();
  };
}
