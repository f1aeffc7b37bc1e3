// A click in the player's headphones, played by the sound's own clock; and whether the microphone hears it.
//
// House figures. Heard is a click that stands over what the room does between clicks, in most of them: a knock or a cough comes
// once. Of noise alone the highest of some hundred checks was 7.5 dB; a click 3 dB under the room gives 10 to 14.

const PITCH_HZ = 1600;
const CLICK_S = 0.03;
const [LOUDNESS, FAINT] = [0.5, 0.005]; // of full scale, at its beginning and at its end
const AHEAD_MS = 150; // so long before the first is due they are handed over; the page looks every 50 ms
const COUNT_IN_BEATS = 4;

const STEPS_A_SECOND = 1000;
const PERIOD_STEPS = 250;
const PERIODS = 9; // that are looked at …
const LATE_PERIODS = 2; // … from so late on: sound may take half a second out to the ears and back in
const FADE_STEPS = 1000 * CLICK_S;
const PATIENCE_MS = 10_000;
const HEARD_OVER_DB = 9;

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

function play(context, at_s) {
  const tone = new OscillatorNode(context, { frequency: PITCH_HZ });
  const shape = new GainNode(context, { gain: 0 });
  shape.gain.setValueAtTime(LOUDNESS, at_s).exponentialRampToValueAtTime(LOUDNESS * FAINT, at_s + CLICK_S);
  tone.connect(shape).connect(context.destination);
  tone.start(at_s);
  tone.stop(at_s + CLICK_S);
  return tone;
}

// How long a sound takes from the clock to the ear, as far as the browser knows.
function lateMs(context) {
  return 1000 * (context.outputLatency || context.baseLatency || 0);
}

// --- counting in --------------------------------------------------------------

// The four clicks of a count-in are handed over at once: however busy the page is then, they come evenly.
export class Clicks {
  #first = 0; // when the first of the last four is due, by the page's clock
  #handed = [];

  // What the first click needs before it can be heard on its beat.
  leadMs(context) {
    return lateMs(context) + AHEAD_MS;
  }

  // Hands over what is due: the four beats before a tone, which are the breath after the last one too.
  follow(run, context) {
    const beat = run.beat < 0 ? -COUNT_IN_BEATS : run.tone.beats;
    const first = run.zero + beat * run.beatMs;
    const now = performance.now();
    const isNew = Math.abs(first - this.#first) > 1;
    if (!isNew || first > now + this.leadMs(context) || (beat > 0 && !run.goesOn)) return;
    this.hush();
    this.#first = first;
    const first_s = context.currentTime + (first - now - lateMs(context)) / 1000;
    const beats_s = Array.from({ length: COUNT_IN_BEATS }, (_, one) => first_s + (one * run.beatMs) / 1000);
    const toCome = beats_s.filter((at_s) => at_s >= context.currentTime); // a late click counts nobody in
    this.#handed = toCome.map((at_s) => play(context, at_s));
  }

  // Nobody is counted in any more.
  hush() {
    this.#handed.splice(0).forEach((click) => click.stop());
  }
}

// --- is it heard? ---------------------------------------------------------------

// The power of a click that begins at each step, whatever its phase.
function powers(samples, rate, step) {
  const turn = (2 * Math.PI * PITCH_HZ) / rate;
  const count = Math.floor(samples.length / step);
  const [re, im] = [new Float64Array(count), new Float64Array(count)];
  for (let i = 0; i < count * step; i += 1) {
    const place = Math.floor(i / step);
    re[place] += samples[i] * Math.cos(turn * i);
    im[place] -= samples[i] * Math.sin(turn * i);
  }
  const shape = Array.from({ length: FADE_STEPS }, (_, i) => FAINT ** (i / FADE_STEPS));
  return Array.from({ length: count - FADE_STEPS }, (_, at) => {
    let [x, y] = [0, 0];
    shape.forEach((weight, i) => {
      x += weight * re[at + i];
      y += weight * im[at + i];
    });
    return x * x + y * y;
  });
}

// How far the instant of the clicks stands over the instants between them, in dB; null where there was no sound at all.
export function overRoomDb(samples, rate) {
  const found = powers(samples, rate, stepOf(rate));
  const periods = Array.from({ length: PERIODS }, (_, one) => one * PERIOD_STEPS);
  const profile = Array.from({ length: PERIOD_STEPS }, (_, at) => median(periods.map((from) => found[from + at])));
  const between = median(profile);
  return between > 0 ? 10 * Math.log10(Math.max(...profile) / between) : null;
}

const stepOf = (rate) => Math.floor(rate / STEPS_A_SECOND);

// What the microphone gives while some clicks are played, from half a second after the first one on; null where it doesn't come.
async function heardWhilePlaying(context, stream) {
  const step = stepOf(context.sampleRate);
  const period_s = (PERIOD_STEPS * step) / context.sampleRate;
  const first_s = context.currentTime + AHEAD_MS / 1000;
  const processorOptions = { from_s: first_s + LATE_PERIODS * period_s, samples: (PERIODS * PERIOD_STEPS + FADE_STEPS) * step };
  const source = context.createMediaStreamSource(stream);
  const node = new AudioWorkletNode(context, "click-ear", { channelCount: 1, channelCountMode: "explicit", processorOptions });
  source.connect(node).connect(context.destination); // it gives no sound, and runs only when asked for some
  for (let one = 0; one < LATE_PERIODS + PERIODS + 1; one += 1) play(context, first_s + one * period_s);
  const samples = await new Promise((resolve) => {
    node.port.onmessage = ({ data }) => resolve(data);
    setTimeout(resolve, PATIENCE_MS, null); // a call took the sound
  });
  source.disconnect();
  node.disconnect();
  return samples;
}

// Whether the microphone hears clicks, or null where that can't be told. ear: the address of click_ear.js
export async function areHeard(context, stream, ear) {
  await context.audioWorklet.addModule(ear);
  const samples = await heardWhilePlaying(context, stream);
  const over = samples && overRoomDb(samples, context.sampleRate);
  return over === null ? null : over >= HEARD_OVER_DB;
}
