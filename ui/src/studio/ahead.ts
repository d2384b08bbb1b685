// What a link leads to is fetched while the hand is still on its way: once it rests on
// the link or presses it, so that a visit is there when the button is let go.
import { pageOf } from "../router.svelte";
import { language } from "../text";
import { ask, visit, type StationName, type VisitView } from "./api";
import { goodFor, keepAnswer } from "./expected";
import { hear, live } from "./live.svelte";

/** How long a hand rests on what it means, in ms; one that only passes over a list asks for nothing. */
const rest = 60;
/** How long a visit that was fetched ahead is as good as one fetched now, in ms. */
const good = 10_000;

/** What the stations ask the server for when they are opened. */
const wanted: Partial<Record<StationName, string[]>> = { exam: ["exam"], findings: ["findings"], plan: ["plan"], handout: ["handout", "steprate"], return: ["return"] };

let held: { id: string; at: number; view: Promise<VisitView>; drop: () => void } | null = null;
let timer: ReturnType<typeof setTimeout> | undefined;

function hold(id: string): Promise<VisitView> {
  if (held?.id === id && Date.now() - held.at < good) return held.view;
  held?.drop();
  // Whatever is told meanwhile may be of this visit, or of its runner.
  const drop = () => {
    for (const stop of quiet) stop();
    if (held !== mine) return;
    held = null;
    goodFor(0);
  };
  const quiet = (["visit", "result", "runner", "job", "again"] as const).map((kind) => hear(kind, drop));
  const mine = { id, at: Date.now(), view: visit(id), drop };
  mine.view.catch(drop);
  held = mine;
  goodFor(good);
  return mine.view;
}

/** The visit as it was fetched ahead, if nothing was told since. */
export function ahead(id: string): Promise<VisitView> | null {
  const mine = held;
  if (!mine) return null;
  const is = mine.id === id && live.connected && Date.now() - mine.at < good;
  if (is) held = null; // its station takes the rest; the visit listens from here on
  mine.drop();
  return is ? mine.view : null;
}

async function fetchAhead(path: string): Promise<void> {
  const to = pageOf(path);
  if (to.page !== "visit") return;
  const here = pageOf(location.pathname);
  try {
    const parts = Promise.all([import("./stations"), import("./Visit.svelte")]);
    if (here.page === "visit" && here.id === to.id) {
      if (to.station) await (await parts)[0].stationOf(to.station, language);
      return;
    }
    const view = hold(to.id);
    const mine = held;
    const station = to.station || ((await view).next?.station ?? "intake");
    const code = parts.then(([s]) => s.stationOf(station, language));
    if (held === mine) for (const what of wanted[station] ?? []) keepAnswer(`/api/visits/${encodeURIComponent(to.id)}/${what}`, ask(`/api/visits/${encodeURIComponent(to.id)}/${what}`));
    await code;
  } catch {
    // Whoever goes there asks anew, and is told.
  }
}

/** Listens to a pointer that comes over, or presses, a link of the program, and to the focus on one. */
export function lookAhead(event: Event): void {
  clearTimeout(timer);
  const link = (event.target as Element).closest?.("a[data-inside]") as HTMLAnchorElement | null;
  if (!link) return;
  const path = new URL(link.href).pathname;
  if (event.type === "pointerdown") void fetchAhead(path);
  else timer = setTimeout(() => void fetchAhead(path), rest);
}
