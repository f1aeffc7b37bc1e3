// Hands over what the microphone gives from one moment of the sound's clock on, in one piece: it runs beside the sound.
//
// processorOptions: {from_s, samples}

class ClickEar extends AudioWorkletProcessor {
  constructor({ processorOptions }) {
    super();
    this.from = Math.round(processorOptions.from_s * sampleRate);
    this.heard = new Float32Array(processorOptions.samples);
  }

  process([[samples = []]]) {
    const at = currentFrame - this.from;
    samples.forEach((sample, i) => (this.heard[at + i] = sample)); // what falls outside is dropped
    if (at < this.heard.length) return true;
    this.port.postMessage(this.heard);
    return false;
  }
}

registerProcessor("click-ear", ClickEar);
