// The playing itself: count-in, tone, breath, next tone, by the clock, so that hands stay on the horn.
//
// A tone's beat 1 is beat 0 here; -4 to -1 are the count-in, the same beats as the breath before it. Each tone is its own
// recording, cut in the breaths; `whole` work (a run, overtones) is one recording from beginning to end.
// A finished tone is kept back until the next one has begun, so that it may be played again before it counts.

import { Recording } from "./microphone.js";
import * as store from "./store.js";

const BREATH_BEATS = 4;
const LEAD_BEATS = 1.5; // recorded before beat 1 and after the last
const TURN_BEATS = 2; // of breathing out, then the next tone is shown
const SETTLE_BEATS = 1; // of the next tone, then the last one is past playing again
const PATIENCE_BEATS = 4; // of silence where a tone should be: the player has stopped
const MOST_WAITS = 2; // for one tone; a tone too soft for me is then recorded all the same
const HEARD_MS = 400;
const LOOK_MS = HEARD_MS / 2; // that one look at the level stands for at most, where looks come late: a click is no note
const OVER_ROOM_DB = 6;
const FAINTEST_DB = -65; // K-weighted re full scale; a phone's own noise never counts as playing
const NO_SOUND_DB = -120; // below it the microphone gives nothing yet: that is no room
const REST_S = 60;
const TICK_MS = 50;
const ASLEEP_MS = 2000; // without a tick: the phone slept, or did something else than listening

export class Run {
  phase = "ready"; // ready, playing, waiting (for the player), paused, resting, full, lost, done
  place = 0;
  #recording = null;
  #kept = null; // {recording, place}
  #heardMs = 0;
  #silentMs = 0;
  #waits = 0;
  #playedInARow = 0;
  #from = 0; // of a whole recording: the place of its first tone
  #busy = false;

  // work: what is played (see play.js); tools: {levels, open() -> Microphone, committed(), show(run)}
  constructor(work, tools) {
    Object.assign(this, { work, tools, beatMs: work.beat_s * 1000, roomDb: work.check?.noise_db ?? null });
    this.place = this.#nextPlace(-1);
    if (this.place === null) this.#to("done");
  }

  get tone() {
    return this.work.tones[this.place];
  }

  get beat() {
    return (performance.now() - this.zero) / this.beatMs;
  }

  get records() {
    return this.#recording !== null;
  }

  get hears() {
    return this.db > Math.max(FAINTEST_DB, (this.roomDb ?? FAINTEST_DB) + OVER_ROOM_DB);
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
    this.zero = this.tickedAt + BREATH_BEATS * this.beatMs;
    this.#heardMs = this.#silentMs = 0;
    this.#recording?.resume();
    this.#to("playing");
  }

  #tick() {
    const now = performance.now();
    const passedMs = now - this.tickedAt;
    this.tickedAt = now;
    if (passedMs > ASLEEP_MS) this.pause("hidden");
    this.#listen(Math.min(passedMs, LOOK_MS));
    if (this.phase === "waiting" && this.#heardMs >= HEARD_MS) this.#countIn();
    if (this.phase === "resting") this.tools.show(this);
    if (this.phase !== "playing") return;
    this.tools.show(this);
    if (this.#recording?.trouble) this.#stumble(this.#recording.trouble);
    else if (!this.#busy) this.#advance().catch((trouble) => this.#stumble(trouble));
  }

  // The quietest that was heard so far is the room: whoever still plays while playing begins is no room.
  #listen(ms) {
    this.db = this.tools.levels()?.now().db ?? Number.NEGATIVE_INFINITY; // none while the microphone is away
    if (!this.work.check && this.db > NO_SOUND_DB) this.roomDb = Math.min(this.roomDb ?? this.db, this.db);
    if (this.phase === "waiting") this.#heardMs = this.hears ? this.#heardMs + ms : 0;
    if (this.phase !== "playing" || this.beat < 0 || this.beat >= this.tone.beats) return;
    if (this.hears) this.#heardMs += ms;
    else this.#silentMs += ms;
  }

  async #advance() {
    const { beat } = this;
    const { beats } = this.tone;
    const isSilent = this.#heardMs < HEARD_MS && this.#silentMs >= PATIENCE_BEATS * this.beatMs;
    if (this.#recording === null && beat >= -LEAD_BEATS && beat < beats) await this.#exclusively(() => this.#begin());
    if (this.#kept && this.#kept.place !== this.place && beat >= SETTLE_BEATS) await this.#exclusively(() => this.commit());
    if (isSilent && beat < beats && this.#waits < MOST_WAITS) await this.#wait();
    else if (beat >= beats + TURN_BEATS) await this.#exclusively(() => this.#turn());
    else if (beat >= beats + LEAD_BEATS) await this.#exclusively(() => this.#end());
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
    if (!(await store.hasRoom())) return this.#to("full");
    if (this.phase !== "playing") return; // paused while the phone was looking for room
    const { profile, exercise, plan, whole, about } = this.work;
    const slots = whole ? this.#slots(this.place, this.work.tones.length) : [this.tone.slot];
    this.#from = this.place;
    const title = whole ? this.work.title : this.tone.title;
    const row = { profile, exercise, plan, slots, title, whole, about: { ...about, ...this.microphone.settings } };
    this.#recording = new Recording(this.microphone, row, this.work.bits_per_second);
    await this.#recording.start();
  }

  #slots(from, to) {
    return this.work.tones.slice(from, to).map((tone) => tone.slot);
  }

  async #end() {
    if (this.work.whole || this.#recording === null) return;
    const recording = this.#recording;
    this.#recording = null;
    await this.#stopped(recording);
    await store.mark(recording.row.key, { state: "kept" });
    if (this.#kept?.place === this.place) await this.#kept.recording.discard(); // of one tone the later take counts
    this.#kept = { recording, place: this.place };
  }

  // A tone that the phone had no room for takes none.
  async #stopped(recording) {
    try {
      await recording.stop();
    } catch (trouble) {
      await recording.discard();
      throw trouble;
    }
  }

  async #turn() {
    await this.#end();
    this.#waits = 0;
    this.#playedInARow += 1;
    this.work.done.push(this.tone.slot);
    const next = this.#nextPlace(this.place);
    if (next === null) return this.finish();
    const cycle = (this.tone.beats + BREATH_BEATS) * this.beatMs;
    this.place = next;
    this.zero += cycle;
    this.#heardMs = this.#silentMs = 0;
    if (this.#playedInARow % this.work.rest_after === 0) this.#beginRest();
    else if (this.#recording && !(await store.hasRoom())) await this.pause("full");
  }

  // The last finished tone counts now: it goes up while the next one is played.
  async commit() {
    if (!this.#kept) return;
    const { key } = this.#kept.recording.row;
    this.#kept = null;
    await store.mark(key, { state: "ready" });
    this.tools.committed();
  }

  async #wait() {
    this.#waits += 1;
    this.#heardMs = 0;
    this.#to("waiting");
    await this.#letGo();
  }

  #beginRest() {
    this.restUntil = performance.now() + REST_S * 1000;
    this.#recording?.pause();
    this.#to("resting");
  }

  get restLeftS() {
    return Math.max(0, Math.ceil((this.restUntil - performance.now()) / 1000));
  }

  // The tone in progress is thrown away; of a whole recording nothing is.
  async #letGo() {
    if (this.work.whole) return this.#recording?.pause();
    const recording = this.#recording;
    this.#recording = null;
    return recording?.discard();
  }

  async pause(why = "paused") {
    if (!["playing", "waiting", "resting"].includes(this.phase)) return;
    this.#to(why);
    await this.#letGo();
  }

  async resume() {
    if (this.#kept?.place === this.place) return this.skip(); // it was finished just before the pause
    if (!this.microphone.works) {
      await this.#endWhole(this.place); // its microphone is gone: what comes is another recording
      this.microphone = await this.tools.open();
    }
    this.#countIn();
  }

  get canGoBack() {
    return this.#kept !== null && this.#kept.place !== this.place;
  }

  // Play the tone on the page again; from a pause, the one before it, as long as that has not gone up.
  async again({ before = false } = {}) {
    await this.#letGo();
    if (this.#kept && (before || this.#kept.place === this.place)) {
      const { recording, place } = this.#kept;
      this.#kept = null;
      await recording.discard();
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
    if (this.work.whole) await this.#endWhole(this.place + Number(this.work.done.includes(this.tone?.slot)));
    else await this.#letGo();
    await this.commit();
    this.microphone?.close();
    this.#to(phase);
  }

  // Of a recording that ends early the tones before `place` were played.
  async #endWhole(place) {
    const recording = this.#recording;
    this.#recording = null;
    if (!recording) return;
    const slots = this.#slots(this.#from, place);
    if (!slots.length) return void (await recording.discard());
    await recording.stop().catch((trouble) => {
      if (trouble.name !== "QuotaExceededError") throw trouble; // else what was written before stands
    });
    await store.mark(recording.row.key, { state: "ready", slots });
    this.tools.committed();
  }

  // Something broke while recording. What is known is told by name; the rest is an error for the console.
  async #stumble(trouble) {
    const isFull = trouble.name === "QuotaExceededError";
    this.#to(isFull ? "full" : "lost");
    if (this.work.whole && isFull) await this.#endWhole(this.place);
    else await this.#letGo();
    if (!isFull) throw trouble;
  }
}
