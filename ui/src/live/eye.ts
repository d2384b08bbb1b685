// The camera: pictures go one by one to the program on this machine, which follows
// the runner in them; nothing is kept.
import type { Maybe } from "../api";
import { ask } from "../studio/api";

export interface Ahead {
  side: "left" | "right";
  m: Maybe;
  error: Maybe;
  why: string;
}

export interface Seen {
  seen: boolean;
  rate_hz: number;
  over_s: number;
  work_ms: number;
  view: string;
  per_min: Maybe;
  error: Maybe;
  why: string;
  ahead: Ahead[];
  /** From the picture's taking to this answer, the mean of the last ones. */
  lateMs: number;
}

interface View {
  id: string;
  model: string;
  leg_source: string;
}

const tall = 480; // pixels of the pictures that are sent, at most
const wide = 860;

/** Watches through a camera until the function it gives is called. */
export async function watch(visit: string, video: HTMLVideoElement, tell: (s: Seen) => void, fault: (err: unknown) => void): Promise<() => void> {
  const view = (await (await ask(`/api/visits/${encodeURIComponent(visit)}/live`, { method: "POST" })).json()) as View;
  let stream: MediaStream | null = null;
  let over = false;
  const stop = () => {
    if (over) return;
    over = true;
    for (const track of stream?.getTracks() ?? []) track.stop();
    video.srcObject = null;
    void ask(`/api/live/${view.id}`, { method: "DELETE", keepalive: true }).catch(() => {});
  };
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30 } } });
    video.srcObject = stream;
    await video.play();
  } catch (err) {
    stop();
    throw err;
  }
  const canvas = document.createElement("canvas");
  const brush = canvas.getContext("2d", { alpha: false })!;
  let busy = false;
  let begun = -1;
  const late: number[] = [];
  const next: VideoFrameRequestCallback = (now, meta) => {
    if (over) return;
    video.requestVideoFrameCallback(next);
    // Where the last picture is still worked on this one is passed over: a late
    // reading is worse than one picture fewer.
    if (busy || !video.videoWidth) return;
    busy = true;
    const taken = meta.captureTime ?? now;
    if (begun < 0) begun = taken;
    const k = Math.min(1, tall / video.videoHeight, wide / video.videoWidth);
    canvas.width = Math.round(k * video.videoWidth);
    canvas.height = Math.round(k * video.videoHeight);
    brush.drawImage(video, 0, 0, canvas.width, canvas.height);
    canvas.toBlob(
      (picture) => {
        void (async () => {
          try {
            if (!picture || over) return;
            const answer = await ask(`/api/live/${view.id}/frames?ms=${(taken - begun).toFixed(2)}`, { method: "POST", body: picture, headers: { "Content-Type": "image/jpeg" } });
            const seen = (await answer.json()) as Omit<Seen, "lateMs">;
            late.push(performance.now() - taken);
            if (late.length > 30) late.shift();
            if (!over) tell({ ...seen, lateMs: late.reduce((a, b) => a + b, 0) / late.length });
          } catch (err) {
            if (over) return;
            stop();
            fault(err);
          } finally {
            busy = false;
          }
        })();
      },
      "image/jpeg",
      0.8,
    );
  };
  video.requestVideoFrameCallback(next);
  stream.getVideoTracks()[0]!.onended = () => {
    stop();
    fault(null);
  };
  return stop;
}
