// Which page the address names.
import { stationNames, type StationName } from "./studio/api";

export type Page =
  | { page: "home" | "results" | "reliability" | "settings" | "keeping" | "together" | "unknown" }
  | { page: "result" | "runner"; id: string }
  | { page: "handbook"; name: string }
  | { page: "visit"; id: string; station: StationName | "" }
  | { page: "bench"; visit: string; result: string; clip: number }
  | { page: "beside"; visit: string; result: string };

function unescaped(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

export function pageOf(path: string): Page {
  const parts = path.split("/").filter(Boolean).map(unescaped);
  const [head, id, next, result, clip] = parts;
  const n = parts.length;
  if (n === 0) return { page: "home" };
  if (head === "results" && n === 4 && next === "bench" && /^\d+$/.test(result!)) return { page: "bench", visit: "", result: id!, clip: Number(result) };
  if (head === "results" && n === 3 && next === "beside") return { page: "beside", visit: "", result: id! };
  if (head === "results") return n === 1 ? { page: "results" } : n === 2 ? { page: "result", id: id! } : { page: "unknown" };
  if (n === 1 && (head === "reliability" || head === "settings" || head === "keeping" || head === "together")) return { page: head };
  if (head === "handbook" && n <= 2) return { page: "handbook", name: id ?? "" };
  if (head === "runners" && n === 2) return { page: "runner", id: id! };
  if (head === "visits" && n === 2) return { page: "visit", id: id!, station: "" };
  if (head === "visits" && n === 3 && next === "beside") return { page: "beside", visit: id!, result: "" };
  if (head === "visits" && n === 3 && (stationNames as readonly string[]).includes(next!)) return { page: "visit", id: id!, station: next as StationName };
  if (head === "visits" && n === 5 && next === "bench" && /^\d+$/.test(clip!)) return { page: "bench", visit: id!, result: result!, clip: Number(clip) };
  return { page: "unknown" };
}

const here = () => (typeof location === "undefined" ? "/" : location.pathname);

/** Where the page is. */
export const place = $state({ path: here() });

/** Goes to another page of the program. */
export function go(address: string, replace = false): void {
  history[replace ? "replaceState" : "pushState"](null, "", address);
  const before = place.path;
  place.path = location.pathname;
  if (before === place.path || replace) return;
  scrollTo(0, 0);
  // The focus goes with the page, unless the page has put it somewhere itself.
  requestAnimationFrame(() => {
    if (document.activeElement === document.body || !document.activeElement) document.getElementById("main")?.focus({ preventScroll: true });
  });
}

/** Turns clicks on links marked data-inside into a change of page. */
export function follow(event: MouseEvent): void {
  const link = (event.target as Element).closest?.("a[data-inside]") as HTMLAnchorElement | null;
  if (!link || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  event.preventDefault();
  link.blur();
  go(link.href);
}

/** The address of a station. */
export const stationPath = (visit: string, station: StationName | ""): string => `/visits/${encodeURIComponent(visit)}${station ? "/" + station : ""}`;

/** The address of a clip's frames on the bench. */
export const benchPath = (visit: string, result: string, clip: number): string => `/visits/${encodeURIComponent(visit)}/bench/${encodeURIComponent(result)}/${clip}`;

/** The address of two strides side by side; with a clip and a frame, of that film to be drawn on. */
export const besidePath = (visit: string, result: string, clip?: number, frame?: number): string =>
  (visit ? `/visits/${encodeURIComponent(visit)}/beside` : `/results/${encodeURIComponent(result)}/beside`) +
  (clip === undefined ? "" : `#a=${encodeURIComponent(result)}/${clip}/0${frame === undefined ? "" : `&frame=${frame}`}`);
