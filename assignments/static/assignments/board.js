// The drawn side of playing: one tone's panel, the beat that runs, and a stroke for every moment of sound that is heard.

const UNITS_A_BEAT = 100;
const STROKE_UNITS = 10;
const LOWEST = 40; // of 100; strokes are coarse on purpose: they say "heard", never "right"
const HIGHEST = 92;
const STEPS = 8;
const USUAL_DB = [-45, -12]; // soft and loud on a day without a check
const SVG = "http://www.w3.org/2000/svg";
const STILL = matchMedia("(prefers-reduced-motion: reduce)"); // strokes then appear beat by beat

export class Board {
  #strokes = 0;
  #beat = null;
  #waiting = document.createDocumentFragment(); // strokes of the running beat, where nothing is to move

  // panel: the part of the page that shows one tone; scale: the day's {softest_db, loudest_db} or null
  constructor(panel, scale) {
    this.hints = [...panel.querySelectorAll("[data-hint]")];
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
    if (Math.floor(beat) !== this.#beat) this.heard.append(this.#waiting);
    this.#beat = Math.floor(beat);
  }

  // After at(): what there is to do on this beat, in words.
  hint(beat, hears) {
    let name = hears ? "heard" : "listening";
    if (beat < -2 || (beat >= this.toneBeats && beat < this.toneBeats + 2)) name = "out";
    else if (beat < 0 || beat >= this.toneBeats) name = "in";
    for (const words of this.hints) words.hidden = words.dataset.hint !== name;
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
    (STILL.matches ? this.#waiting : this.heard).append(stroke);
  }
}
