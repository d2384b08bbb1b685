// Draws clicked and followed points over the picture.
import { stageInk } from "../draw/figure";
import type { Placed } from "../logic/lens";
import type { StickerDesk } from "./desk.svelte";
import { onPath, pieces } from "./points";

/** How many frames of the path to either side are drawn. */
const reach = 40;

export function paint(g: CanvasRenderingContext2D, desk: StickerDesk, lens: Placed, unit: number): void {
  const now = desk.fileFrame;
  const X = (x: number) => lens.left + x * lens.scale;
  const Y = (y: number) => lens.top + y * lens.scale;
  const line = (wide: number, ink: string) => {
    g.lineWidth = wide + 2.4;
    g.strokeStyle = stageInk.edge;
    g.stroke();
    g.lineWidth = wide;
    g.strokeStyle = ink;
    g.stroke();
  };
  g.save();
  g.lineJoin = "round";
  desk.names.forEach((name, i) => {
    const path = desk.path(name);
    const inHand = name === desk.held;
    const ink = inHand ? stageInk.now : "#ffffff";
    if (path) {
      for (const p of pieces(path, now - reach, now + reach)) {
        g.beginPath();
        for (let k = p.from; k <= p.to; k++) {
          const s = onPath(path, k)!;
          if (k === p.from) g.moveTo(X(s.x), Y(s.y));
          else g.lineTo(X(s.x), Y(s.y));
        }
        g.setLineDash(!path.current ? [unit * 1.5, unit * 5] : p.sure ? [] : [unit * 5, unit * 4]);
        line(unit * (inHand ? 2 : 1.3), ink);
      }
      g.setLineDash([]);
    }
    const s = desk.spot(name);
    if (!s) return;
    const x = X(s.x);
    const y = Y(s.y);
    const r = unit * (inHand ? 15 : 9);
    g.beginPath();
    // A square where a person clicked, a ring where it was followed to.
    if (desk.isClicked(name)) g.rect(x - r * 0.8, y - r * 0.8, r * 1.6, r * 1.6);
    else {
      g.moveTo(x + r, y);
      g.arc(x, y, r, 0, 2 * Math.PI);
    }
    g.moveTo(x - unit * 3, y);
    g.lineTo(x + unit * 3, y);
    g.moveTo(x, y - unit * 3);
    g.lineTo(x, y + unit * 3);
    line(unit * 1.6, ink);
    g.font = `600 ${Math.round(unit * 14)}px system-ui, sans-serif`;
    g.lineWidth = unit * 3.5;
    g.strokeStyle = stageInk.edge;
    g.strokeText(String(i + 1), x + r + unit * 4, y - r * 0.5);
    g.fillStyle = ink;
    g.fillText(String(i + 1), x + r + unit * 4, y - r * 0.5);
  });
  g.restore();
}
