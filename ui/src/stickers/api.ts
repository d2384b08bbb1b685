// What the stickers' page asks of the server.
import { ask, type Job } from "../studio/api";
import type { Point, Stickers } from "./points";

const at = (clip: string) => `/api/clips/${encodeURIComponent(clip)}/stickers`;
const written = (method: string, body: unknown): RequestInit => ({ method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

export const stickers = async (clip: string) => (await ask(at(clip))).json() as Promise<Stickers>;
export const putStickers = async (clip: string, version: number, points: Point[]) => (await ask(at(clip), written("PUT", { version, points }))).json() as Promise<Stickers>;
export const follow = async (clip: string) => (await ask(`${at(clip)}/follow`, written("POST", {}))).json() as Promise<Job>;
export const jobs = async () => (await ask("/api/jobs")).json() as Promise<Job[]>;
