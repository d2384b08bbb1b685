// Where in the stride a moment is, in words.
import type { Contact } from "../api";
import { onGround, placeAt } from "../logic/contacts";
import { t } from ".";

/** Which foot is on the ground at time t; empty where the clip has no contacts. */
export function whereText(contacts: readonly Contact[], timeS: number): string {
  if (!contacts.length) return "";
  const left = onGround(contacts, "left", timeS);
  const right = onGround(contacts, "right", timeS);
  if (left && right) return t.phase.both;
  if (left) return t.phase.ground(t.sides.left);
  if (right) return t.phase.ground(t.sides.right);
  if (left === null && right === null) return t.phase.unknown;
  return t.phase.flight;
}

/** How far each foot is in its stride, in percent. */
export function phaseText(contacts: readonly Contact[], timeS: number): string {
  const parts: string[] = [];
  for (const foot of ["left", "right"] as const) {
    const place = placeAt(contacts, foot, timeS);
    if (place?.inside) parts.push(t.phase.percent(t.sideLetter[foot], 100 * place.phase));
  }
  return parts.join(" · ");
}
