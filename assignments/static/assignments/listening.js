// How many tones a recording holds, and about which notes: only so that nobody need say what can be told.
// What counts is measured in the studio.

const HOP_S = 0.05;
const OVER_FLOOR_DB = 10; // over the quietest tenth of the recording …
const UNDER_LOUDEST_DB = 20; // … but a recording may hold nothing quiet
const FAINTEST_DB = -75;
const LEAST_BEATS = 3; // shorter is no long tone
const BRIDGED_BEATS = 0.5; // a hole this short is inside a tone
const WINDOW_S = 0.085;
const WINDOWS = 5; // of the middle half of a tone
const LOWEST_HZ = 55;
const HIGHEST_HZ = 1700;
const CLEAR = 0.6; // of 1: less alike from one wave to the next, and no note is named
const NEAR_BEST = 0.9; // the first lag that is nearly as good as the best is the wave, not a multiple of it

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

function levels(samples, hop) {
  const found = [];
  for (let at = 0; at + hop <= samples.length; at += hop) {
    let sum = 0;
    for (let i = at; i < at + hop; i += 1) sum += samples[i] * samples[i];
    found.push(Math.max(FAINTEST_DB, 10 * Math.log10(sum / hop + 1e-12)));
  }
  return found;
}

// [from, to) in hops
function stretches(db, least, bridged) {
  const sorted = [...db].sort((a, b) => a - b);
  const gate = Math.min(sorted[Math.floor(db.length / 10)] + OVER_FLOOR_DB, sorted.at(-1) - UNDER_LOUDEST_DB);
  const found = [];
  db.forEach((level, hop) => {
    if (level <= Math.max(gate, FAINTEST_DB)) return;
    const last = found.at(-1);
    if (last && hop - last[1] <= bridged) last[1] = hop + 1;
    else found.push([hop, hop + 1]);
  });
  return found.filter(([from, to]) => to - from >= least);
}

// How alike the window is to itself `lag` samples later: 1 is the same.
function likeness(samples, at, size, lag) {
  let both = 0;
  let power = 0;
  for (let i = at; i < at + size - lag; i += 1) {
    both += samples[i] * samples[i + lag];
    power += samples[i] * samples[i] + samples[i + lag] * samples[i + lag];
  }
  return power ? (2 * both) / power : 0;
}

function pitchHz(samples, at, size, rate) {
  const first = Math.floor(rate / HIGHEST_HZ);
  const last = Math.min(Math.ceil(rate / LOWEST_HZ), size - 1);
  const found = [];
  for (let lag = first; lag <= last; lag += 1) found.push(likeness(samples, at, size, lag));
  const isPeak = (i) => found[i] >= found[i - 1] && found[i] >= found[i + 1];
  const peaks = [...found.keys()].filter((i) => i > 0 && i < found.length - 1 && isPeak(i));
  const best = Math.max(0, ...peaks.map((i) => found[i]));
  if (best < CLEAR) return null;
  const i = peaks.find((one) => found[one] >= NEAR_BEST * best);
  const bend = found[i - 1] - 2 * found[i] + found[i + 1];
  return rate / (first + i + (bend ? (found[i - 1] - found[i + 1]) / (2 * bend) : 0));
}

function midiOf(samples, [from, to], rate, a4Hz) {
  const size = Math.round(WINDOW_S * rate);
  const quarter = (to - from) / 4;
  const found = [];
  for (let one = 0; one < WINDOWS; one += 1) {
    const at = Math.round(from + quarter + (one / (WINDOWS - 1)) * 2 * quarter - size / 2);
    const hz = at >= 0 && at + size <= samples.length ? pitchHz(samples, at, size, rate) : null;
    if (hz !== null) found.push(69 + 12 * Math.log2(hz / a4Hz));
  }
  return found.length > WINDOWS / 2 ? median(found) : null;
}

// Of each tone the sounding note as a MIDI number with its fraction, or null where none is clear. `a4Hz`: what is asked for.
export function tonesIn(samples, rate, beatS, a4Hz) {
  const hop = Math.round(HOP_S * rate);
  const db = levels(samples, hop);
  if (!db.length) return [];
  const found = stretches(db, (LEAST_BEATS * beatS) / HOP_S, (BRIDGED_BEATS * beatS) / HOP_S);
  return found.map(([from, to]) => midiOf(samples, [from * hop, to * hop], rate, a4Hz));
}
