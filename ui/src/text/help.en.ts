// What each page is for, in three sentences, and its drawing in words; and the
// frame around the handbook. English.
import type { HelpName } from "../help/drawings";

export interface Helped {
  /** Exactly three sentences. */
  three: [string, string, string];
  /** The drawing in words. */
  drawn: string;
}

const pages: Record<HelpName, Helped> = {
  intake: {
    three: [
      "Note who runs here, what hurts, and what the runner agrees to.",
      "Ask the warning signs before filming: one yes means that a clinician looks first.",
      "Measure height and body mass rather than asking, for step lengths and strength rest on them.",
    ],
    drawn: "A body with its knee marked, beside a list of questions; one answer carries a stop sign.",
  },
  film: {
    three: [
      "Bring in one film from the side and one from behind, each with fifteen seconds or more of even running.",
      "Enter the belt speed and, for slow motion, the frames a second at filming: without them lengths and times are wrong.",
      "“How to film” shows where the cameras stand.",
    ],
    drawn: "A treadmill from above: one camera at right angles to the belt, one straight behind the runner.",
  },
  measure: {
    three: [
      "The program looks for the runner in each film, finds each footfall, and gives each measure with its error, left and right apart.",
      "It works by itself, so go on with the exam meanwhile.",
      "Then look at the frames worth checking: a point that sits wrong is put right there, and you see which numbers it changes.",
    ],
    drawn: "A runner with joints as dots and the angle of one knee, above bars that show when each foot is on the belt.",
  },
  exam: {
    three: [
      "Test strength, mobility and control by hand, both sides, to learn what may lie behind what the films show.",
      "The list begins with the tests that would tell the most about this runner; the rest may be left out.",
      "Where it hurts, press “It hurts: stop”: a test that hurts does not measure strength.",
    ],
    drawn: "A person lying on one side lifts the upper leg against a strap; the distance from hip to strap is marked.",
  },
  findings: {
    three: [
      "At most three findings are put before you, each with what carries it, what else it could be and what would overturn it.",
      "You decide: only what you accept goes into the plan.",
      "A finding says how someone runs; it is never a diagnosis.",
    ],
    drawn: "A value with its error beyond a limit, and a test beside it, lead to one finding; a dashed line leads to what else it could be.",
  },
  plan: {
    three: [
      "What you accepted becomes exercises for the side that needs them, week by week.",
      "Change any dose; what you change by hand is kept.",
      "The step rate rises a little each week at the same pace, with a click that fades.",
    ],
    drawn: "Steps that rise from week to week; a runner on the highest, and clicks below that grow fewer.",
  },
  handout: {
    three: [
      "Give the runner the homework as one file for the phone, and the report to read or print.",
      "The homework needs no network, and its log comes back here as a file, a code or a picture.",
      "Nothing is sent from here: you hand it over yourself.",
    ],
    drawn: "A sheet goes from the coach’s machine to a phone; from the phone a log comes back.",
  },
  return: {
    three: [
      "This visit is held against an earlier one, and a change counts only beyond the error of both.",
      "Film as before, from the same side, at the same speed, in the same shoes; where the films differ it says what cannot be told.",
      "For each block of the plan it proposes to progress, hold or step back, and you decide.",
    ],
    drawn: "Two values with their errors: one pair lies apart, which is a change; the other overlaps, which is none.",
  },
  together: {
    three: [
      "Over all runners who agreed to research: what you see most, what comes together, and what happened under your programmes.",
      "Each share has its interval, which is wide as long as the runners are few.",
      "There is no group without a programme here, so what followed a programme need not have come from it.",
    ],
    drawn: "Bars for how often each finding occurs, each with a line for its interval, and a small crowd of runners beside.",
  },
  keeping: {
    three: [
      "Save a backup often, on another disk: it is one encrypted file, and without its passphrase nobody can open it.",
      "Old records are listed so that you can decide whether to keep or to erase them.",
      "Every look and every change is listed, with its name and its time.",
    ],
    drawn: "A folder of records goes into a locked box that stands on another disk.",
  },
  settings: {
    three: [
      "Units, language, light or dark and your name hold for this device alone.",
      "The studio’s name and logo stand on every report.",
      "To let a tablet in, start the program with --lan; the address then stands here.",
    ],
    drawn: "A machine with sliders on its screen, joined to a tablet.",
  },
};

export const helpEn = {
  open: "Help",
  close: "Close the help",
  region: (page: string) => `Help: ${page}`,
  key: "help for this page, open or closed",
  more: "More in the handbook",
  pages,
  book: {
    title: "Handbook",
    lead: "Kept in the program: it needs no network.",
    pages: "Pages of the handbook",
    /** The handbook is written in English; empty in English. */
    foreign: "",
    none: "The handbook has no such page.",
    back: "All pages",
  },
};

export type HelpText = typeof helpEn;
