// A result in the units of the reader. The numbers of the server stay as they
// are; what is shown is a copy.
import type { Curve, Maybe, Measure, Series, Session, Track } from "../api";
import type { Units } from "../prefs.svelte";
import { numberText } from "./number";
import { turned } from "./units";

const by = (factor: number) => (v: Maybe) => (v === null ? null : v * factor);

export function measureIn(units: Units, m: Measure): Measure {
  const to = turned(m.unit, units);
  const range = m.range && units === "us" && m.range.speed ? { ...m.range, speed: speedSpan(m.range.speed) } : m.range;
  if (!to) return range === m.range ? m : { ...m, range };
  const f = by(to.factor);
  return {
    ...m,
    unit: to.unit,
    decimals: Math.max(0, m.decimals + to.decimals),
    flag: m.flag.replace(/(reads about )([\d.]+) m /, (_, words: string, v: string) => `${words}${numberText(Number(v) * to.factor, 1)} ${to.unit} `),
    value: f(m.value),
    sd: f(m.sd),
    sem: f(m.sem),
    mdc95: f(m.mdc95),
    range: range && { ...range, low: f(range.low), high: f(range.high), margin_below: f(range.margin_below), margin_above: f(range.margin_above) },
  };
}

/** "3.3-3.7" or "up to 3.7", m/s, in miles an hour. */
function speedSpan(text: string): string {
  const to = turned("m/s", "us")!;
  return text.replace("-", "–").replace(/\d+(\.\d+)?/g, (v) => numberText(Number(v) * to.factor, 1));
}

function curveIn(units: Units, c: Curve): Curve {
  const to = turned(c.unit, units);
  return to ? { ...c, unit: to.unit, mean: c.mean.map(by(to.factor)), sd: c.sd.map(by(to.factor)) } : c;
}

function seriesIn(units: Units, s: Series): Series {
  const to = turned(s.unit, units);
  return to ? { ...s, unit: to.unit, values: s.values.map(by(to.factor)) } : s;
}

export function sessionIn(units: Units, s: Session): Session {
  if (units === "metric") return s;
  return { ...s, clips: (s.clips ?? []).map((c) => ({ ...c, measures: (c.measures ?? []).map((m) => measureIn(units, m)), curves: (c.curves ?? []).map((k) => curveIn(units, k)) })) };
}

export function trackIn(units: Units, t: Track): Track {
  if (units === "metric" || !t.series) return t;
  return { ...t, series: Object.fromEntries(Object.entries(t.series).map(([k, s]) => [k, seriesIn(units, s)])) };
}
