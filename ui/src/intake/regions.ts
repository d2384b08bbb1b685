// Regions of the body in words.
import { intake as w } from "../text/intake";

/** The name of a region, or of a group of them; empty for the whole body. */
export const regionName = (id: string): string => w.groups[id] ?? w.places[id] ?? id.replaceAll("_", " ");
