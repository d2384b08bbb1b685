// What the page of two strides asks of the server, and what it gets.
import type { Maybe, View } from "../api";
import { ask, type Job } from "../studio/api";

export interface Choice {
  result: string;
  visit: string;
  date: string;
  created: string;
  views: View[];
  speed_mps: Maybe;
  /** The newest of its visit. */
  current: boolean;
  here: boolean;
}

export interface Choices {
  runner: string;
  visit: string;
  results: Choice[];
}

/** A stride of a clip of a result, all counted from 0. */
export interface Shown {
  result: string;
  clip: number;
  stride: number;
}

export interface Stride {
  from_s: number;
  to_s: number;
  /** The phase of toe-off. */
  toe_off: number;
  first_frame: number;
  last_frame: number;
  doubt: boolean;
}

export interface Part {
  strides: Stride[];
  stride: number;
  leg_px: Maybe;
  hip_x_px: Maybe;
  hip_y_px: Maybe;
}

/** One step of both: frames are samples of the clips. */
export interface Step {
  phase: number;
  a: number;
  b: number;
}

export type Note = "view" | "speed" | "speed_unknown" | "camera" | "doubt";

export interface Pairing {
  foot: Foot;
  a: Part;
  b: Part;
  steps: Step[];
  notes: Note[];
}

export type Foot = "left" | "right";
export type Point = [number, number];

/** A line of two points or an angle of three, the vertex in the middle; frames are the file's. */
export interface Mark {
  kind: "line" | "angle";
  frame: number;
  stays: boolean;
  points: Point[];
  text: string;
}

export interface Measured extends Mark {
  angle_deg: number;
  length_px: Maybe;
  length_m: Maybe;
  length_m_sd: Maybe;
}

export interface Drawings {
  version: number;
  marks: Measured[];
  pixels_per_m: Maybe;
  scale_relative_sd: Maybe;
  scale_text: string;
  /** How far the picture has to be turned clockwise to be level. */
  roll_deg: number;
  undo: string;
  redo: string;
}

export type Format = "png" | "mp4" | "gif";

/** A picture or film as it is asked for. */
export interface Show {
  a: Shown;
  b: Shown | null;
  foot: Foot;
  over: boolean;
  opacity: number;
  match: boolean;
  whole: boolean;
  skeleton: boolean;
  angles: boolean;
  drawings: boolean;
  step: number;
  from: number;
  to: number;
  slow: number;
  format: Format;
}

/** The longest a film to take away plays, in seconds. */
export const longest = 10;

async function json<T>(path: string, method = "GET", body?: unknown): Promise<T> {
  const more: RequestInit = method === "GET" ? {} : { method, body: JSON.stringify(body ?? {}), headers: { "Content-Type": "application/json" } };
  return (await ask(path, more)).json() as Promise<T>;
}

const id = encodeURIComponent;
const named = (s: Shown) => id(`${s.result}/${s.clip}/${s.stride}`);
const drawn = (result: string, clip: number) => `/api/results/${id(result)}/clips/${clip}/drawings`;

export const choices = (visit: string, result: string) => json<Choices>(visit ? `/api/visits/${id(visit)}/beside` : `/api/results/${id(result)}/beside`);
export const pairing = (a: Shown, b: Shown, foot: Foot) => json<Pairing>(`/api/pairing?a=${named(a)}&b=${named(b)}&foot=${foot}`);
export const drawings = (result: string, clip: number) => json<Drawings>(drawn(result, clip));
export const putDrawings = (result: string, clip: number, version: number, what: string, marks: readonly Mark[]) =>
  json<Drawings>(drawn(result, clip), "PUT", { version, what, marks: marks.map(({ kind, frame, stays, points, text }) => ({ kind, frame, stays, points, text })) });
export const undoDrawings = (result: string, clip: number, again: boolean) => json<Drawings>(`${drawn(result, clip)}/${again ? "redo" : "undo"}`, "POST");
export const picturePath = (show: Show) => `/api/picture.png?show=${id(JSON.stringify(show))}`;
export const exportFilm = (show: Show) => json<Job>("/api/exports", "POST", show);
export const exportPath = (job: string) => `/api/exports/${id(job)}`;
export const jobs = () => json<Job[]>("/api/jobs");
