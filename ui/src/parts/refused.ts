// Why a camera or a microphone was not given. Browsers say it in their own language;
// the page says it in its own, and what to do.
import { shell } from "../text";
import { told } from "../text/told";

export type Device = "camera" | "microphone";
export type Refusal = "denied" | "none" | "taken" | "insecure" | "other";

const reasons: Record<string, Refusal> = {
  NotAllowedError: "denied",
  SecurityError: "denied",
  NotFoundError: "none",
  OverconstrainedError: "none",
  NotReadableError: "taken",
  AbortError: "taken",
};

/** The reason, where an error is a browser's word on its devices; devices says that it has any to give. */
export function refusalOf(err: unknown, devices: boolean): Refusal | null {
  if (err instanceof TypeError && !devices) return "insecure";
  const name = (err as { name?: string } | null)?.name ?? "";
  return reasons[name] ?? (err instanceof DOMException ? "other" : null);
}

/** What stood in the way of a device, in the page's words; what the program itself said stays. */
export function whyNot(err: unknown, device: Device): string {
  const refusal = refusalOf(err, !!navigator.mediaDevices);
  return refusal ? shell.refused[device][refusal] : told(err instanceof Error ? err.message : String(err));
}
