// How long it will still take, in each language, for the stations that say so.
export const leftEn = (minutes: number, seconds: number): string => (minutes ? `about ${minutes} min ${seconds} s left` : `about ${seconds} s left`);
export const leftDe: typeof leftEn = (minutes, seconds) => (minutes ? `noch etwa ${minutes} min ${seconds} s` : `noch etwa ${seconds} s`);
