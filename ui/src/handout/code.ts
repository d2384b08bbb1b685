// QR codes of the homework, read by the program on this machine.
import { ask } from "../studio/api";

const side = 1280; // pixels of the picture that is sent, at most

/** The code in a picture; empty where none is seen. */
export async function readCode(picture: HTMLVideoElement | ImageBitmap): Promise<string> {
  const [width, height] = picture instanceof HTMLVideoElement ? [picture.videoWidth, picture.videoHeight] : [picture.width, picture.height];
  if (!width || !height) return "";
  const k = Math.min(1, side / Math.max(width, height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(k * width);
  canvas.height = Math.round(k * height);
  const brush = canvas.getContext("2d", { alpha: false })!;
  brush.fillStyle = "#fff";
  brush.fillRect(0, 0, canvas.width, canvas.height);
  brush.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const jpeg = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", 0.85));
  if (!jpeg) return "";
  const answer = await ask("/api/codes", { method: "POST", body: jpeg, headers: { "Content-Type": "image/jpeg" } });
  return ((await answer.json()) as { text: string }).text;
}

/** What is known of a code of several parts. */
export class Parts {
  private pieces = new Map<number, string>();
  private sum = "";
  of = 0;

  /** Takes a part in; the whole where it is complete, else null. */
  add(text: string): string | null {
    const m = /^GW2:(\d+)\/(\d+):([0-9A-F]{8}):/.exec(text);
    if (!m) return text; // a code in one piece
    if (m[3] !== this.sum || Number(m[2]) !== this.of) {
      this.pieces.clear();
      this.sum = m[3]!;
      this.of = Number(m[2]);
    }
    this.pieces.set(Number(m[1]), text);
    return this.pieces.size === this.of ? [...this.pieces.entries()].sort((a, b) => a[0] - b[0]).map(([, t]) => t).join("\n") : null;
  }

  get have(): number {
    return this.pieces.size;
  }

  /** The first that is still missing. */
  get next(): number {
    let k = 1;
    while (this.pieces.has(k)) k++;
    return k;
  }
}
