/** Calls fn once what stands now is painted; at once where nothing is painted, as in a tab behind another. */
export function afterPaint(fn: () => void): void {
  if (document.hidden) fn();
  else requestAnimationFrame(() => setTimeout(fn));
}
