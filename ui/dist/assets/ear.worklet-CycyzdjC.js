// Hands on what the microphone hears, in pieces, from the audio thread: nothing is
// lost while the page is busy.
class Ear extends AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Float32Array(2048);
    this.n = 0;
  }
  process([input]) {
    for (const x of input[0] ?? []) {
      this.piece[this.n++] = x;
      if (this.n === this.piece.length) {
        this.port.postMessage(this.piece.slice());
        this.n = 0;
      }
    }
    return true;
  }
}
registerProcessor("ear", Ear);
