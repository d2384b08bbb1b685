// All consenting runners together, as the server tells it.
import type { Maybe } from "../api";
import { json } from "../studio/api";

export interface Share {
  name?: string;
  title?: string;
  k: number;
  n: number;
  share: Maybe;
  low: Maybe;
  high: Maybe;
}

export interface Pair {
  a: string;
  b: string;
  both: number;
  expected: number;
  odds: number;
  odds_low: number;
  odds_high: number;
  p: number;
  told: boolean;
}

export interface Contrast {
  finding: string;
  factor: "sex" | "height" | "speed" | "complaint";
  first: string;
  second: string;
  a: Share;
  b: Share;
  difference: number;
  low: number;
  high: number;
  p: number;
  told: boolean;
}

export interface Outcome {
  measure: string;
  better: number;
  as: number;
  within: number;
  against: number;
  share: Share;
  change: Maybe;
  low: Maybe;
  high: Maybe;
  kept: Share;
}

export interface Course {
  finding: string;
  given: number;
  returned: number;
  waiting: number;
  drop_out: Share;
  outcomes: Outcome[];
}

export interface Usual {
  measure: string;
  from_mps: number;
  to_mps: number;
  n: number;
  women: number;
  men: number;
  mean: number;
  sd: number;
  low: number;
  high: number;
  sem: Maybe;
  values: number[];
  ref_low: Maybe;
  ref_high: Maybe;
  source: string;
  inside: number;
}

export interface Together {
  runners: number;
  left_out: number;
  visits: number;
  returned: number;
  waiting: number;
  findings: Share[];
  pairs: Pair[];
  pairs_tried: number;
  contrasts: Contrast[];
  contrasts_tried: number;
  programmes: Course[];
  usual: Usual[];
  reliability: { measure: string; origin: string; sem: number; mdc95: number; runners: number; date: string }[];
  few: string;
  notes: { text: string; source: string }[];
  /** Title and unit by name. */
  measures: Record<string, [string, string]>;
}

export const together = () => json<Together>("/api/together");
