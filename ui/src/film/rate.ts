// What a camera's frame rate is worth. Below 50 contact times are given wide
// errors or withheld; 100 and more is what they want (common practice).
export const verdictOf = (hz: number): "slow" | "fair" | "good" => (hz < 50 ? "slow" : hz < 100 ? "fair" : "good");

/** The first of some recording formats that this browser can write. */
export function format(can: (type: string) => boolean): { type: string; ending: string } {
  for (const type of ["video/mp4;codecs=avc1.42E01E", "video/mp4", "video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"]) if (can(type)) return { type, ending: type.includes("mp4") ? "mp4" : "webm" };
  return { type: "", ending: "webm" };
}

/** The name of a film recorded at a moment. */
export function filmName(at: Date, ending: string): string {
  const two = (n: number) => String(n).padStart(2, "0");
  return `camera-${at.getFullYear()}${two(at.getMonth() + 1)}${two(at.getDate())}-${two(at.getHours())}${two(at.getMinutes())}${two(at.getSeconds())}.${ending}`;
}
