// The words of the station Intake, in English. Warning signs and the scale of
// pain come from the server with their sources; so do names of places that are
// not in the list here.
export const intakeEn = {
  title: "Intake",
  lead: "Ask in any order. Everything is saved as you go.",
  fields: {
    complaint: "What brings them here",
    goals: "What they want to reach",
    shoes: "Shoes today",
    history: "Injuries and illnesses before",
    "training.km_per_week": "Distance a week",
    "training.runs_per_week": "Runs a week",
    "training.years": "Years of running",
    "training.longest_km": "Longest run last month",
    "training.easy_pace_s_per_km": "Easy pace",
    "training.recent_change": "What changed lately",
    height_m: "Height",
    mass_kg: "Body mass",
    leg_length_m: "Leg length",
    leg_length_how: "How the leg length was found",
    born_year: "Year of birth",
    sex: "Sex",
    pain: "Pain",
    no_pain: "Nothing hurts",
    signs: "Warning signs",
    cleared: "Clearance",
    "consent.filming": "Consent to filming",
    "consent.records": "Consent to keeping records",
    "consent.positions": "Consent to keeping where runs were",
    "consent.research": "Consent to research",
    name: "Name",
    note: "Note",
  } as Record<string, string>,

  sheets: {
    consent: ["May we?", "Without both, no film is stored."],
    signs: ["Warning signs", "Read each aloud. One yes stops the visit."],
    pain: ["Pain now", "Tap where it hurts, then how much."],
    reason: ["Why they came", ""],
    body: ["Body", "Lengths and forces rest on these."],
    training: ["Training", ""],
    past: ["Shoes and history", ""],
  } as Record<string, [string, string]>,

  consent: {
    ask: {
      filming: ["Filming", "The runner agrees to be filmed on the treadmill for this analysis."],
      records: ["Keeping records", "The runner agrees that films and notes are kept on this machine."],
      positions: ["Places of runs", "Not needed for the visit: files of a running watch are kept as they come, with the places. Without it the places are dropped."],
      research: ["Research", "Not needed for the visit: films and numbers may be used, without the name, to test the method."],
    } as Record<"filming" | "records" | "positions" | "research", [string, string]>,
    yes: "Yes, today",
    on: "Agreed on",
    withdraw: "Take back",
    optional: "optional",
  },

  signs: {
    yes: "Yes",
    no: "No",
    why: "Why it is asked",
    rest: "All the others asked: no",
    left: (n: number) => (n === 1 ? "1 question left" : `${n} questions left`),
    done: "All asked",
    where: "Where",
    whole: "not one place, or not known",
    side: "Side",
    no_plan: (where: string[]) => `No programme for ${where.length ? where.join(", ").toLowerCase() : "the whole body"} before a clinician's clearance is noted.`,
  },
  /** Regions that are more than one place of the body map. */
  groups: { hip: "hip", knee: "knee", ankle: "ankle", foot: "foot", leg: "leg, from hip to toes", lower_leg: "lower leg and foot", low_back: "low back" } as Record<string, string>,

  pain: {
    front: "Front",
    back: "Back",
    face: "Side of the figure",
    figure: { front: "Body from the front; arrow keys go from place to place", back: "Body from behind; arrow keys go from place to place" } as Record<"front" | "back", string>,
    right: "right",
    left: "left",
    spot: (place: string, score: number | null) => (score === null ? place : `${place}, pain ${score} of 10`),
    list: "Choose from a list",
    place: "Place",
    side: "Side",
    mark: "Mark this place",
    nothing: "Asked: nothing hurts now",
    how: (place: string) => `How much, from 0 to 10: ${place}`,
    choose: "Choose a number: until then this place is not kept.",
    ends: ["no pain", "worst thinkable"],
    since: "Since when",
    sinceThese: ["today", "this week", "two weeks", "a month", "three months", "longer than a year"],
    when: "When it hurts",
    whenThese: ["at the start of a run", "later in a run", "after the run", "the next morning", "on stairs", "at rest", "at night"],
    note: "Note",
    remove: "Remove this place",
    marked: "Marked",
    scale: "About the scale",
    source: (s: string) => `Source: ${s}`,
  },

  body: {
    sex: { female: "Female", male: "Male" } as Record<"female" | "male", string>,
    how: { measured: "Measured", estimated: "Estimated" } as Record<"measured" | "estimated", string>,
    estimate: "Estimate from the height",
    formula: "0.530 × height (Drillis & Contini 1966, in Winter 2009; from memory). Single people differ by 3–4 %: a tape from the greater trochanter to the floor is better.",
    measured: "From the bony point on the outside of the hip (greater trochanter) to the floor, standing.",
    year: "Unusual year. Please check.",
    noYear: "Not a year of birth, so it is not saved. Please check.",
  },

  training: {
    changeHint: "More distance, speed, hills, new shoes, another ground, a break",
  },

  cautions: "Mind",

  keys: [["Arrow keys", "on the figure: from place to place; Enter marks"]] as [string, string][],

  /** Names of the places of the body map; without one the server's own stands. */
  places: {} as Record<string, string>,
};

export type IntakeText = typeof intakeEn;
