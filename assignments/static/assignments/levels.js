// How loud it is just now, K-weighted (ITU-R BS.1770) re full scale: the scale the studio's own measuring uses.

const WINDOW = 4096; // samples: 85 ms at 48 kHz
const WAKES_MS = 1000; // an audio context that nobody tapped for, or that a call took, doesn't come at all

// The standard tabulates its two filters at 48 kHz only; these are the analogue ones behind the table, brought to
// `rate` by the bilinear transform. At 48 kHz they give the table's figures.
export function kWeighting(rate) {
  return { shelf: shelf(rate), highPass: highPass(rate) };
}

function shelf(rate) {
  const [cornerHz, q, high] = [1681.974450955533, 0.7071752369554196, 10 ** (3.999843853973347 / 20)];
  const band = high ** 0.4996667741545416;
  const k = Math.tan((Math.PI * cornerHz) / rate);
  const a0 = 1 + k / q + k * k;
  return {
    forward: [(high + (band * k) / q + k * k) / a0, (2 * (k * k - high)) / a0, (high - (band * k) / q + k * k) / a0],
    back: [1, (2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0],
  };
}

function highPass(rate) {
  const [cornerHz, q] = [38.13547087602444, 0.5003270373238773];
  const k = Math.tan((Math.PI * cornerHz) / rate);
  const a0 = 1 + k / q + k * k;
  const back = [1, (2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0];
  const gain = ((1 - back[1] + back[2]) / 4) * 1.00499; // the table's numerator is 1, -2, 1 at 48 kHz
  return { forward: [gain, -2 * gain, gain], back };
}

function levelDb(samples) {
  let sum = 0;
  for (const sample of samples) sum += sample * sample;
  return -0.691 + 10 * Math.log10(sum / samples.length + 1e-14);
}

export class Levels {
  #samples = new Float32Array(WINDOW);

  constructor(stream) {
    const { sampleRate } = stream.getAudioTracks()[0].getSettings(); // a headset's own; not every browser joins two rates
    this.context = new AudioContext({ sampleRate });
    const mono = new GainNode(this.context, { channelCount: 1, channelCountMode: "explicit" });
    const { shelf, highPass } = kWeighting(this.context.sampleRate);
    this.plain = new AnalyserNode(this.context, { fftSize: WINDOW });
    this.weighted = new AnalyserNode(this.context, { fftSize: WINDOW });
    this.context.createMediaStreamSource(stream).connect(mono).connect(this.plain);
    mono
      .connect(this.context.createIIRFilter(shelf.forward, shelf.back))
      .connect(this.context.createIIRFilter(highPass.forward, highPass.back))
      .connect(this.weighted);
  }

  // Whether it listens now; if not, somebody has to tap first.
  async wake() {
    const patience = new Promise((resolve) => setTimeout(resolve, WAKES_MS));
    await Promise.race([this.context.resume(), patience]);
    return this.context.state === "running";
  }

  // {db, peak}: the level of the last window, and its largest sample (1 is full scale).
  now() {
    this.plain.getFloatTimeDomainData(this.#samples);
    let peak = 0;
    for (const sample of this.#samples) peak = Math.max(peak, Math.abs(sample));
    this.weighted.getFloatTimeDomainData(this.#samples);
    return { db: levelDb(this.#samples), peak };
  }

  close() {
    return this.context.close();
  }
}
