// One visit as the page has it: what the server said last, and what is being
// filled in.
import { ahead } from "./ahead";
import { goodFor } from "./expected";
import { Draft } from "./draft.svelte";
import { hear } from "./live.svelte";
import * as api from "./api";
import type { Intake, Job, Runner, StationName, StudioClip, VisitView } from "./api";

/** The one thing that the bar at the foot of the page offers. */
export interface Offer {
  /** What is to be done, in a sentence. */
  text: string;
  /** On the button. */
  label: string;
  /** Set where the text came from the server, in English. */
  foreign?: boolean;
  act: () => void;
  /** Why the button cannot be pressed now. */
  not?: string;
  /** Work under way, 0 to 1. */
  share?: number;
  tone?: "stop";
}

export const blankIntake = (): Intake => ({
  version: 0,
  training: { km_per_week: null, runs_per_week: null, years: null, longest_km: null, easy_pace_s_per_km: null, recent_change: "" },
  shoes: "",
  goals: "",
  history: "",
  complaint: "",
  pain: [],
  no_pain: false,
  signs: {},
  places: {},
  cleared: null,
});

export const painKey = (item: unknown): string | null => {
  const p = item as { region?: unknown; side?: unknown; face?: unknown } | null;
  return typeof p?.region === "string" ? `${p.region} ${String(p.side)} ${String(p.face)}` : null;
};

function whole(i: Intake | null): Intake {
  const blank = blankIntake();
  if (!i) return blank;
  return { ...blank, ...i, training: { ...blank.training, ...i.training }, pain: i.pain ?? [], signs: i.signs ?? {}, places: i.places ?? {}, cleared: i.cleared ?? null };
}

function alone(r: Runner): Runner {
  const { visits: _, ...rest } = r;
  return { ...rest, consent: rest.consent ?? { filming: null, records: null, research: null } };
}

export class VisitStore {
  view = $state.raw<VisitView | null>(null);
  trouble = $state("");
  intake = $state.raw<Draft<Intake> | null>(null);
  runner = $state.raw<Draft<Runner> | null>(null);
  /** What the station on show offers as the next thing; null leaves it to the visit. */
  offer = $state.raw<Offer | null>(null);
  /** The field that the focus is to go to when its station is there. */
  wanted = $state("");
  /** What was just done or undone, to be said once. */
  said = $state("");
  /** Jobs as told last, newer than those of the view. */
  jobs = $state.raw<Job[]>([]);

  private quiet: (() => void)[] = [];
  private asked = 0;

  constructor(readonly id: string) {
    this.quiet = [
      hear("visit", (n) => n.id === this.id && n.version !== this.view?.version && void this.load()),
      hear("result", (n) => n.visit_id === this.id && void this.load()),
      hear("runner", (n) => n.id === this.view?.runner.id && n.version !== this.view.runner.version && void this.load()),
      hear("again", () => void this.load()),
      hear("job", (job) => this.job(job)),
    ];
  }

  close(): void {
    for (const stop of this.quiet) stop();
    this.intake?.close();
    this.runner?.close();
  }

  async load(): Promise<void> {
    const mine = ++this.asked;
    try {
      const early = this.view ? null : ahead(this.id);
      if (!early) goodFor(0); // what was fetched ahead is old
      const view = await (early ?? api.visit(this.id));
      if (mine === this.asked) this.take(view);
    } catch (err) {
      if (mine === this.asked && !this.view) this.trouble = err instanceof Error ? err.message : String(err);
    }
  }

  /** Takes in a view of the visit. */
  take(view: VisitView): void {
    this.asked++;
    this.trouble = "";
    this.view = view;
    this.jobs = (view.jobs ?? []).map((job) => {
      const told = this.jobs.find((j) => j.id === job.id);
      return told && told.state === job.state && told.share > job.share ? told : job;
    });
    const intake = whole(view.intake);
    const runner = alone(view.runner);
    if (this.intake) this.intake.take(intake);
    else
      this.intake = new Draft<Intake>(intake, {
        name: `intake.${this.id}`,
        keyOf: painKey,
        write: async (value) => {
          const answer = await api.putIntake(this.id, value);
          if ("stations" in answer) {
            this.take(answer);
            return whole(answer.intake);
          }
          void this.load();
          return whole(answer);
        },
        read: async () => whole((await api.visit(this.id)).intake),
      });
    if (this.runner) this.runner.take(runner);
    else
      this.runner = new Draft<Runner>(runner, {
        name: `runner.${runner.id}`,
        write: async (value) => {
          const kept = alone(await api.putRunner(value, this.id));
          void this.load();
          return kept;
        },
        read: async () => alone(await api.runner(runner.id)),
      });
  }

  /** Takes in one clip without asking for the whole visit. */
  takeClip(clip: StudioClip): void {
    if (!this.view) return;
    const clips = this.view.clips ?? [];
    const there = clips.some((c) => c.id === clip.id);
    this.view = { ...this.view, clips: there ? clips.map((c) => (c.id === clip.id ? clip : c)) : [...clips, clip] };
  }

  private job(job: Job): void {
    if (job.visit_id !== this.id) return;
    const there = this.jobs.some((j) => j.id === job.id);
    this.jobs = there ? this.jobs.map((j) => (j.id === job.id ? job : j)) : [...this.jobs, job];
    if (job.state === "done" || job.state === "failed") void this.load();
  }

  takeJob(job: Job): void {
    this.job(job);
  }

  async undo(which: "undo" | "redo"): Promise<void> {
    await Promise.all([this.intake?.flush(), this.runner?.flush()]);
    const deed = this.view?.[which] ?? "";
    try {
      const answer = await api[which](this.id);
      this.take(answer);
      this.said = deed;
    } catch (err) {
      this.said = err instanceof Error ? err.message : String(err);
    }
  }

  station(name: StationName) {
    return this.view?.stations.find((s) => s.name === name);
  }
}
