// How a file is cut for sending.

/** The largest part, in bytes; the server takes up to 8 MiB. */
export const largest = 4 << 20;

/** The next part to send: from and to, in bytes. */
export const part = (sent: number, size: number): [number, number] => [sent, Math.min(size, sent + largest)];

/** How long to wait after so many failures in a row, in ms. */
export const pauseAfter = (failures: number): number => Math.min(15000, 1000 * 2 ** failures);

/** A size for reading. */
export function sizeText(bytes: number, text: (v: number, decimals: number) => string): string {
  if (bytes < 1e6) return `${text(bytes > 0 ? Math.max(1, bytes / 1e3) : 0, 0)}\u202fkB`;
  return bytes < 1e9 ? `${text(bytes / 1e6, bytes < 1e7 ? 1 : 0)}\u202fMB` : `${text(bytes / 1e9, 1)}\u202fGB`;
}
