import { expect, it } from "vitest";
import { besideDe } from "../src/text/beside.de";
import { besideEn } from "../src/text/beside.en";
import { de } from "../src/text/de";
import { en } from "../src/text/en";
import { examDe } from "../src/text/exam.de";
import { examEn } from "../src/text/exam.en";
import { findingsDe } from "../src/text/findings.de";
import { findingsEn } from "../src/text/findings.en";
import { filmDe } from "../src/text/film.de";
import { filmEn } from "../src/text/film.en";
import { intakeDe } from "../src/text/intake.de";
import { intakeEn } from "../src/text/intake.en";
import { measureDe } from "../src/text/measure.de";
import { measureEn } from "../src/text/measure.en";
import { planDe } from "../src/text/plan.de";
import { planEn } from "../src/text/plan.en";
import { shellDe } from "../src/text/shell.de";
import { shellEn } from "../src/text/shell.en";
import { workDe } from "../src/text/work.de";
import { workEn } from "../src/text/work.en";

/** Every leaf of a tree of words, by its path. */
function leaves(v: unknown, path = "", out = new Map<string, unknown>()): Map<string, unknown> {
  if (v !== null && typeof v === "object") for (const [k, x] of Object.entries(v)) leaves(x, path ? `${path}.${k}` : k, out);
  else out.set(path, v);
  return out;
}

// The types see to the rest; open lists of words are seen to here.
it.each([
  ["results", en, de],
  ["frame", shellEn, shellDe],
  ["intake", intakeEn, intakeDe],
  ["film", filmEn, filmDe],
  ["measure", measureEn, measureDe],
  ["exam", examEn, examDe],
  ["findings", findingsEn, findingsDe],
  ["plan", planEn, planDe],
  ["work", workEn, workDe],
  ["side by side", besideEn, besideDe],
])("%s: German has every text that English has", (_, one, other) => {
  const [a, b] = [leaves(one), leaves(other)];
  expect([...a.keys()].filter((k) => !b.has(k))).toEqual([]);
  for (const [path, text] of b) if (typeof text === "string" && a.get(path)) expect(text, path).not.toBe("");
});
