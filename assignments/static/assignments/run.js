// The playing itself: count-in, tone, breath, next tone, by the clock, so that hands stay on the horn.
//
// A tone's beat 1 is beat 0 here; -4 to -1 are the count-in, the same beats as the breath before it. Each tone is its own
// recording, cut in the breaths; `whole` work (a run, overtones) is one recording from beginning to end.

import { Player } from "./player.js";
import { Tape } from "./tape.js";
import { hasRoom } from "./writing.js";

const BREATH_BEATS = 4;
const LEAD_BEATS = 1.5; // recorded before beat 1 and after the last
const TURN_BEATS = 2; // of breathing out, then the next tone is shown
const SETTLE_BEATS = 1; // of the next tone, then the last one is past playing again
const PATIENCE_BEATS = 4; // of silence where a tone should be: the player has stopped
const MOST_WAITS = 2; // for one tone; a tone too soft for me is then recorded all the same
const REST_S = 60;
const TICK_MS = 50;
const ASLEEP_MS = 2000; // without a tick: the phone slept, or did something else than listening

export class Run {
  phase = "ready"; // ready, playing, waiting (for the player), paused, hidden, asleep, resting, full, lost, broken, done, hurts
  place = 0;
  #waits = 0;
  #playedInARow = 0;
  #busy = false;

  // work: what is played (see play.js); tools: {levels(), open() -> Microphone, leadMs(), committed(), show(run)}
  constructor(work, tools) {
    Object.assign(this, { work, tools, beatMs: work.beat_s * 1000, player: new Player(tools.levels, work.check) });
    this.tape = new Tape(work, tools.committed);
    this.place = this.#nextPlace(-1);
    if (this.place === null) this.#to("done");
  }

  get tone() {
    return this.work.tones[this.place];
  }

  get beat() {
    return Math.max(-BREATH_BEATS, (performance.now() - this.zero) / this.beatMs);
  }

  // Whether another tone follows this one without a rest.
  get goesOn() {
    return this.#nextPlace(this.place) !== null && (this.#playedInARow + 1) % this.work.rest_after !== 0;
  }

  get records() {
    return this.tape.runs;
  }

  #nextPlace(after) {
    const next = this.work.tones.findIndex((tone, place) => place > after && !this.work.done.includes(tone.slot));
    return next === -1 ? null : next;
  }

  #to(phase) {
    this.phase = phase;
    this.tools.show(this);
  }

  async start() {
    clearInterval(this.timer);
    this.microphone = await this.tools.open();
    this.#countIn();
    this.timer = setInterval(() => this.#tick(), TICK_MS);
  }

  #countIn() {
    this.tickedAt = performance.now();
    this.zero = this.tickedAt + this.tools.leadMs() + BREATH_BEATS * this.beatMs;
    this.player.forget();
    this.tape.resume();
    this.#to("playing");
  }

  #tick() {
    const now = performance.now();
    const passedMs = now - this.tickedAt;
    this.tickedAt = now;
    if (passedMs > ASLEEP_MS) this.pause(document.hidden ? "hidden" : "asleep");
    this.#listen(passedMs);
    if (this.phase === "waiting" && this.player.plays) this.#countIn();
    if (this.phase === "resting") this.tools.show(this);
    if (this.phase !== "playing") return;
    this.tools.show(this);
    if (this.tape.trouble) this.#stumble(this.tape.trouble);
    else if (!this.#busy) this.#advance().catch((trouble) => this.#stumble(trouble));
  }

  #listen(ms) {
    this.player.look();
    const isTone = this.phase === "playing" && this.beat >= 0 && this.beat < this.tone.beats;
    if (this.phase === "waiting" || isTone) this.player.listen(ms, { inOne: !isTone });
  }

  async #advance() {
    const { beat } = this;
    const { beats } = this.tone;
    const isSilent = this.player.hasStopped(PATIENCE_BEATS * this.beatMs);
    if (!this.records && beat >= -LEAD_BEATS && beat < beats) await this.#exclusively(() => this.#begin());
    if (this.canGoBack && beat >= SETTLE_BEATS) await this.#exclusively(() => this.tape.commit());
    if (isSilent && beat < beats && this.#waits < MOST_WAITS) await this.#wait();
    else if (beat >= beats + TURN_BEATS) await this.#exclusively(() => this.#turn());
    else if (beat >= beats + LEAD_BEATS) await this.#exclusively(() => this.tape.end(this.place));
  }

  async #exclusively(work) {
    this.#busy = true;
    try {
      await work();
    } finally {
      this.#busy = false;
    }
  }

  async #begin() {
    if (!(await hasRoom())) return this.#to("full");
    if (this.phase === "playing") await this.tape.begin(this.microphone, this.place); // else paused while the phone looked
  }

  async #turn() {
    await this.tape.end(this.place);
    this.#waits = 0;
    this.#playedInARow += 1;
    this.work.done.push(this.tone.slot);
    const next = this.#nextPlace(this.place);
    if (next === null) return this.finish();
    const cycle = (this.tone.beats + BREATH_BEATS) * this.beatMs;
    this.place = next;
    this.zero += cycle;
    this.player.forget();
    if (this.#playedInARow % this.work.rest_after === 0) this.#beginRest();
    else if (this.records && !(await hasRoom())) await this.pause("full");
  }

  async #wait() {
    this.#waits += 1;
    this.player.forget();
    this.#to("waiting");
    await this.tape.letGo();
  }

  #beginRest() {
    this.restUntil = performance.now() + REST_S * 1000;
    this.tape.pause();
    this.#to("resting");
  }

  get restLeftS() {
    return Math.max(0, Math.ceil((this.restUntil - performance.now()) / 1000));
  }

  async pause(why = "paused") {
    if (!["playing", "waiting", "resting"].includes(this.phase)) return;
    this.#to(why);
    await this.tape.letGo();
  }

  async resume() {
    if (this.tape.keptPlace === this.place) return this.skip(); // it was finished just before the pause
    if (!this.microphone.works) {
      await this.tape.endWhole(this.place); // its microphone is gone: what comes is another recording
      this.microphone = await this.tools.open();
    }
    this.#countIn();
  }

  get canGoBack() {
    return this.tape.keptPlace !== null && this.tape.keptPlace !== this.place;
  }

  // Play the tone on the page again; from a pause, the one before it, as long as that has not gone up.
  async again({ before = false } = {}) {
    await this.tape.letGo();
    const place = this.tape.keptPlace;
    if (place !== null && (before || place === this.place)) {
      await this.tape.forgetKept();
      this.place = place;
      this.work.done = this.work.done.filter((slot) => slot !== this.tone.slot);
    }
    await this.resume();
  }

  async skip() {
    const next = this.#nextPlace(this.place);
    if (next === null) return this.finish();
    this.place = next;
    this.#waits = 0;
    return this.resume();
  }

  // Done, or enough for now: what was finished goes up.
  async finish(phase = "done") {
    clearInterval(this.timer);
    if (this.work.whole) await this.tape.endWhole(this.place + Number(this.work.done.includes(this.tone?.slot)));
    else await this.tape.letGo();
    await this.tape.commit();
    this.microphone?.close();
    this.#to(phase);
  }

  // Nobody agrees to it any more: what has not gone up is thrown away.
  async drop() {
    clearInterval(this.timer);
    await this.tape.drop();
  }

  // Something broke while recording. What is known is told by name; the rest is an error for the console too.
  async #stumble(trouble) {
    const isFull = trouble.name === "QuotaExceededError";
    if (isFull) this.#to("full");
    else this.#to(this.microphone.works ? "broken" : "lost");
    if (this.work.whole) await this.tape.endWhole(this.place);
    else await this.tape.letGo();
    if (!isFull) throw trouble;
  }
}
