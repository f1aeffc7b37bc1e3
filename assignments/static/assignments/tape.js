// What is recorded while somebody plays: the recording that runs, and the finished tone that is held back until the next one has
// begun, so that it may be played again before it counts. A place is a tone's among those of the work.

import { Recording } from "./microphone.js";
import * as store from "./store.js";

export class Tape {
  #running = null;
  #kept = null; // {recording, place}
  #from = 0; // of a whole recording: the place of its first tone

  // work: see play.js; committed(): something may go up
  constructor(work, committed) {
    Object.assign(this, { work, committed });
  }

  get runs() {
    return this.#running !== null;
  }

  // What kept the running one from being recorded or written down, if anything did.
  get trouble() {
    return this.#running?.trouble;
  }

  // The place of the tone that is held back, or null.
  get keptPlace() {
    return this.#kept?.place ?? null;
  }

  async begin(microphone, place) {
    const { profile, exercise, plan, whole, about, tones } = this.work;
    const slots = whole ? this.#slots(place, tones.length) : [tones[place].slot];
    const title = whole ? this.work.title : tones[place].title;
    const row = { profile, exercise, plan, slots, title, whole, about: { ...about, ...microphone.settings } };
    this.#from = place;
    this.#running = new Recording(microphone, row, this.work.bits_per_second);
    await this.#running.start();
  }

  #slots(from, to) {
    return this.work.tones.slice(from, to).map((tone) => tone.slot);
  }

  pause() {
    this.#running?.pause();
  }

  resume() {
    this.#running?.resume();
  }

  #taken() {
    const recording = this.#running;
    this.#running = null;
    return recording;
  }

  // One tone is played to its end. The phone may have no room for it: then nothing stays of it.
  async end(place) {
    if (this.work.whole || !this.runs) return;
    const recording = this.#taken();
    try {
      await recording.stop();
    } catch (trouble) {
      await recording.discard();
      throw trouble;
    }
    await store.mark(recording.row.key, { state: "kept" });
    if (this.keptPlace === place) await this.#kept.recording.discard(); // of one tone the later take counts
    this.#kept = { recording, place };
  }

  // A recording that ends early holds the tones before `place`.
  async endWhole(place) {
    const recording = this.#taken();
    if (!recording) return;
    const slots = this.#slots(this.#from, place);
    if (!slots.length) return void (await recording.discard());
    await recording.stop().catch((trouble) => {
      if (trouble.name !== "QuotaExceededError") throw trouble; // else what was written before stands
    });
    await store.mark(recording.row.key, { state: "ready", slots });
    this.committed();
  }

  // The tone in progress is thrown away; of a whole recording nothing is.
  async letGo() {
    if (this.work.whole) return this.pause();
    return this.#taken()?.discard();
  }

  // The tone that was held back counts now: it goes up while the next one is played.
  async commit() {
    if (!this.#kept) return;
    const { key } = this.#kept.recording.row;
    this.#kept = null;
    await store.mark(key, { state: "ready" });
    this.committed();
  }

  // The tone that was held back never was.
  async forgetKept() {
    const { recording } = this.#kept;
    this.#kept = null;
    await recording.discard();
  }

  // Nothing of either stays.
  async drop() {
    const here = [this.#taken(), this.#kept?.recording];
    this.#kept = null;
    for (const one of here) await one?.discard();
  }
}
