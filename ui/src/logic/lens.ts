// How the picture lies in its pane: fitted, then magnified and shifted.
import { clamp } from "./clock";

export interface Lens {
  /** Magnification beyond the fit, 1 to 8. */
  zoom: number;
  /** The picture's point at the middle of the pane, as fractions of its size. */
  x: number;
  y: number;
}

export const fitted: Lens = { zoom: 1, x: 0.5, y: 0.5 };
export const maxZoom = 8;

export interface Placed {
  scale: number;
  left: number;
  top: number;
}

/** Scale and top left corner of a picture of w × h in a pane of paneW × paneH. */
export function place(lens: Lens, w: number, h: number, paneW: number, paneH: number): Placed {
  const scale = Math.min(paneW / w, paneH / h) * lens.zoom;
  return { scale, left: paneW / 2 - lens.x * w * scale, top: paneH / 2 - lens.y * h * scale };
}

export interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** The lens that fills the pane with a part of the picture, as far as it goes. */
export function around(box: Box, w: number, h: number, paneW: number, paneH: number): Lens {
  const whole = Math.min(paneW / w, paneH / h);
  const zoom = clamp(Math.min(paneW / (box.right - box.left), paneH / (box.bottom - box.top)) / whole, 1, maxZoom);
  return kept({ zoom, x: (box.left + box.right) / 2 / w, y: (box.top + box.bottom) / 2 / h });
}

/** The lens after magnifying by `factor` with the pane's point (px, py) held still. */
export function zoomed(lens: Lens, factor: number, px: number, py: number, w: number, h: number, paneW: number, paneH: number): Lens {
  const zoom = clamp(lens.zoom * factor, 1, maxZoom);
  const before = place(lens, w, h, paneW, paneH);
  const scale = (before.scale * zoom) / lens.zoom;
  const x = (px - before.left) / before.scale;
  const y = (py - before.top) / before.scale;
  return kept({ zoom, x: (x - (px - paneW / 2) / scale) / w, y: (y - (py - paneH / 2) / scale) / h });
}

/** The lens after magnifying about its own middle. */
export const magnified = (lens: Lens, factor: number): Lens => kept({ ...lens, zoom: clamp(lens.zoom * factor, 1, maxZoom) });

/** The lens after dragging the picture by (dx, dy) pane pixels. */
export function dragged(lens: Lens, dx: number, dy: number, scale: number, w: number, h: number): Lens {
  return kept({ zoom: lens.zoom, x: lens.x - dx / scale / w, y: lens.y - dy / scale / h });
}

function kept(lens: Lens): Lens {
  if (lens.zoom <= 1) return fitted;
  return { zoom: lens.zoom, x: clamp(lens.x, 0, 1), y: clamp(lens.y, 0, 1) };
}
