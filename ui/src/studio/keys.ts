// Keys that only one station has, in its own words.
import { exam } from "../text/exam";
import { film } from "../text/film";
import { intake } from "../text/intake";

export function stationKeys(station: string): [string, string][] {
  if (station === "intake") return intake?.keys ?? [];
  if (station === "film") return film?.keys ?? [];
  if (station === "exam") return exam?.keys ?? [];
  return [];
}
