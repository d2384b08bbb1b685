// The microphone: footfalls read on this device, nothing kept.
import worklet from "./ear.worklet.js?url";
import { Footfalls, type Heard, type Unheard } from "./footfalls";

/** Listens until the function it gives is called; tell gets null while nothing is sure, and why. */
export async function listen(ctx: AudioContext, tell: (h: Heard | null, why: Unheard) => void): Promise<() => void> {
  const stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
  try {
    await ctx.audioWorklet.addModule(worklet);
    const source = ctx.createMediaStreamSource(stream);
    const ear = new AudioWorkletNode(ctx, "ear", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
    const falls = new Footfalls(ctx.sampleRate);
    ear.port.onmessage = (e: MessageEvent<Float32Array>) => falls.push(e.data);
    source.connect(ear);
    const timer = setInterval(() => tell(falls.heard(), falls.why), 500);
    return () => {
      clearInterval(timer);
      ear.port.onmessage = null;
      source.disconnect();
      for (const track of stream.getTracks()) track.stop();
    };
  } catch (err) {
    for (const track of stream.getTracks()) track.stop();
    throw err;
  }
}
