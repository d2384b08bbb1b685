// What an exercise's dose is in time: a list of phases that the timer walks
// through by the clock, so that a sleepy page is never behind.

/** Seconds of one repetition: its pace, its hold, or three. */
export function repSeconds(dose) {
  const pace = (dose.pace ?? "").split("-").map(Number);
  const sum = pace.reduce((a, b) => a + b, 0);
  if (dose.pace && sum > 0) return sum + (dose.hold_s ?? 0);
  return dose.hold_s ? dose.hold_s + 2 : 3;
}

/** Phases of an item: { kind, side, set, sets, reps, seconds }. */
export function phasesOf(dose, sides) {
  const out = [];
  sides.forEach((side, s) => {
    out.push({ kind: s === 0 ? "ready" : "change", side, set: 1, sets: dose.sets, reps: 0, seconds: s === 0 ? 5 : 8 });
    for (let set = 1; set <= dose.sets; set++) {
      const reps = dose.seconds ? 0 : (dose.reps ?? 1);
      out.push({ kind: "work", side, set, sets: dose.sets, reps, seconds: dose.seconds ? dose.seconds : reps * repSeconds(dose) });
      if (set < dose.sets && dose.rest_s > 0) out.push({ kind: "rest", side, set, sets: dose.sets, reps: 0, seconds: dose.rest_s });
    }
  });
  return out;
}

/** Where a timer is after so many seconds; null when it is over. */
export function phaseAt(phases, seconds) {
  let t = seconds;
  for (let i = 0; i < phases.length; i++) {
    const p = phases[i];
    if (t < p.seconds) return { index: i, phase: p, left: p.seconds - t, rep: p.reps ? Math.min(p.reps, Math.floor((t / p.seconds) * p.reps) + 1) : 0 };
    t -= p.seconds;
  }
  return null;
}
