// The drawn side of playing: one tone's panel, the beat that runs, and a stroke for every moment of sound that is heard.

const UNITS_A_BEAT = 100;
const STROKE_UNITS = 10;
const LOWEST = 40; // of 100; strokes are coarse on purpose: they say "heard", never "right"
const HIGHEST = 92;
const STEPS = 8;
const USUAL_DB = [-45, -12]; // soft and loud on a day without a check
const SVG = "http://www.w3.org/2000/svg";

export class Board {
  #strokes = 0;

  // panel: the part of the page that shows one tone; scale: the day's {softest_db, loudest_db} or null
  constructor(panel, scale) {
    this.heard = panel.querySelector(".heard");
    this.beats = [...panel.querySelectorAll(".beats li")];
    this.low = scale?.softest_db ?? USUAL_DB[0];
    this.high = scale?.loudest_db ?? USUAL_DB[1];
    this.heard.replaceChildren();
    this.beats.forEach((beat) => beat.classList.remove("now"));
  }

  // beat: -4 … 0 counts in on the breathing beats, 0 … the tone, then the breath after it
  at(beat, toneBeats) {
    const all = this.beats.length;
    const running = beat < 0 ? all + Math.floor(beat) : Math.floor(beat);
    this.beats.forEach((one, place) => {
      one.classList.toggle("now", place === running);
    });
    this.toneBeats = toneBeats;
  }

  hear(beat, db) {
    const place = Math.floor((beat * UNITS_A_BEAT) / STROKE_UNITS);
    if (beat < 0 || beat >= this.toneBeats || place < this.#strokes) return;
    this.#strokes = place + 1;
    const share = Math.min(1, Math.max(0, (db - this.low) / (this.high - this.low)));
    const height = LOWEST + (HIGHEST - LOWEST) * (Math.round(share * STEPS) / STEPS);
    const stroke = document.createElementNS(SVG, "rect");
    stroke.setAttribute("class", "stroke");
    stroke.setAttribute("x", place * STROKE_UNITS + 2);
    stroke.setAttribute("y", 100 - height);
    stroke.setAttribute("width", 6);
    stroke.setAttribute("height", height);
    this.heard.append(stroke);
  }
}
