// Can the phone hear the player? Two seconds of quiet, an easy tone, the loudest, the softest: numbers in, words' names out.
//
// House figures, in dB K-weighted re full scale; a wrong guess costs a repeated check, never a tone.

export const STEPS = ["quiet", "easy", "loudest", "softest"];

const QUIET_S = 2;
const HOLD_S = 2; // a tone is heard out this long …
const SETTLED_S = 0.4; // … and read from here on
const OVER_ROOM_DB = { easy: 12, loudest: 12, softest: 6 };
const LOUD_ROOM_DB = -45; // then even loud tones would drown
const CLEAR_DB = 25; // an easy tone over the room; soft tones lie some 14 dB lower
const LOUDER_DB = 1; // by so much the loudest must beat the easy tone, and the softest stay under it
const LEAST_SPAN_DB = 8; // less between softest and loudest: the phone evens them out
const OVERSHOOT_DB = 2.5; // a start so far above its own body: the phone turns the volume down
const CEILING = 0.97; // of full scale

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

// One reader a step: hear(at_s, db, peak) returns null until it has what it waits for, then {db, peak, overshootDb}.
export function reader(step, roomDb) {
  return step === "quiet" ? quietReader() : toneReader(roomDb + OVER_ROOM_DB[step]);
}

function quietReader() {
  const heard = [];
  return {
    hear(at_s, db, peak) {
      heard.push({ at_s, db, peak });
      if (at_s - heard[0].at_s < QUIET_S) return null;
      return { db: median(heard.map((one) => one.db)), peak: Math.max(...heard.map((one) => one.peak)), overshootDb: 0 };
    },
  };
}

function toneReader(gateDb) {
  let heard = [];
  let silentBefore = false; // the tone of the step before must end first
  return {
    get sounding() {
      return heard.length > 2;
    },
    hear(at_s, db, peak) {
      if (db < gateDb) {
        silentBefore = true;
        heard = [];
        return null;
      }
      if (!silentBefore) return null;
      heard.push({ at_s, db, peak });
      return at_s - heard[0].at_s < HOLD_S ? null : toneOf(heard);
    },
  };
}

function toneOf(heard) {
  const between = (from, to) =>
    heard.filter((one) => one.at_s - heard[0].at_s >= from && one.at_s - heard[0].at_s <= to).map((one) => one.db);
  return {
    db: median(between(SETTLED_S, HOLD_S)),
    peak: Math.max(...heard.map((one) => one.peak)),
    overshootDb: Math.max(...between(0, 0.25)) - median(between(0.3, 0.8)),
  };
}

// After a step: null when all is well, else the name of what to tell: one cause, one thing to do.
export function troubleAfter(step, read) {
  const { quiet, easy, loudest, softest } = read;
  if (step === "quiet") return quiet.db > LOUD_ROOM_DB ? "room_loud" : null;
  if (read[step].peak >= CEILING) return "too_close";
  if (step === "easy" && easy.db - quiet.db < CLEAR_DB) return quiet.db > LOUD_ROOM_DB - 10 ? "room_loud" : "too_far";
  if (step === "loudest" && loudest.db < easy.db + LOUDER_DB) return "not_louder";
  if (step === "softest" && softest.db > easy.db - LOUDER_DB) return "not_softer";
  return null;
}

// What the whole check says of the phone's own volume help: "on", "suspected", "off" or "unknown".
export function volumeHelp(read, settings) {
  if (settings.autoGainControl === true) return "on";
  const overshoots = [read.easy, read.loudest, read.softest].map((one) => one.overshootDb);
  if (read.loudest.db - read.softest.db < LEAST_SPAN_DB || median(overshoots) >= OVERSHOOT_DB) return "suspected";
  return settings.autoGainControl === false ? "off" : "unknown";
}

const tenth = (value) => Math.round(value * 10) / 10;

// What the studio keeps of it, as the day's own soft-to-loud.
export function summary(read, settings) {
  return {
    softest_db: tenth(read.softest.db),
    loudest_db: tenth(read.loudest.db),
    noise_db: tenth(read.quiet.db),
    settings: { ...settings, easy_db: tenth(read.easy.db), volume_help: volumeHelp(read, settings) },
  };
}
