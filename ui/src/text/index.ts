// The language in use.
import { en } from "./en";

export const t = en;
