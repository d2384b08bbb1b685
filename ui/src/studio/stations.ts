// The stations' pages and their words, fetched when they are gone to.
import type { Component } from "svelte";
import type { Language } from "../prefs.svelte";
import * as exam from "../text/exam";
import * as findings from "../text/findings";
import * as film from "../text/film";
import * as homework from "../text/homework";
import * as runs from "../text/runs";
import * as intake from "../text/intake";
import * as measure from "../text/measure";
import * as help from "../text/help";
import * as plan from "../text/plan";
import * as tryout from "../text/tryout";
import * as work from "../text/work";
import * as back from "../text/return";
import type { StationName } from "./api";

type Part = Promise<{ default: Component<any> }>;

const stations: Record<StationName, { part: () => Part; speak: (l: Language) => Promise<void> }> = {
  intake: { part: () => import("../intake/Intake.svelte"), speak: intake.speak },
  film: { part: () => import("../film/Film.svelte"), speak: async (l) => void (await Promise.all([film.speak(l), tryout.speak(l)])) },
  exam: { part: () => import("../exam/Exam.svelte"), speak: async (l) => void (await Promise.all([exam.speak(l), work.speak(l)])) },
  findings: { part: () => import("../findings/Findings.svelte"), speak: async (l) => void (await Promise.all([findings.speak(l), intake.speak(l)])) },
  plan: { part: () => import("../plan/Plan.svelte"), speak: async (l) => void (await Promise.all([plan.speak(l), homework.speak(l), intake.speak(l), runs.speak(l)])) },
  handout: { part: () => import("../handout/Handout.svelte"), speak: homework.speak },
  return: { part: () => import("../return/Return.svelte"), speak: back.speak },
  measure: { part: () => import("../measure/Measure.svelte"), speak: async (l) => void (await Promise.all([measure.speak(l), work.speak(l)])) },
};

/** The page of a station, with its words in the language. */
export async function stationOf(name: StationName, language: Language): Promise<Component<any>> {
  const station = stations[name];
  const [part] = await Promise.all([station.part(), station.speak(language), help.speak(language)]);
  return part.default;
}
