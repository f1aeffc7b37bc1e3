// Whether the player plays: what is heard against the room, and for how long there was sound or silence.

const HEARD_MS = 400; // shorter is no note
const OVER_ROOM_DB = 6;
const FAINTEST_DB = -65; // K-weighted re full scale; a phone's own noise never counts as playing
const NO_SOUND_DB = -120; // below it the microphone gives nothing yet: that is no room
const LOOK_MS = HEARD_MS / 2; // that one look at the level stands for at most, where looks come late: a click is no note

export class Player {
  db = Number.NEGATIVE_INFINITY;
  #heardMs = 0;
  #silentMs = 0;

  // levels(): what measures the microphone now, or null while it is away; check: the day's own, or null
  constructor(levels, check) {
    Object.assign(this, { levels, hasCheck: Boolean(check), roomDb: check?.noise_db ?? null });
  }

  get hears() {
    return this.db > Math.max(FAINTEST_DB, (this.roomDb ?? FAINTEST_DB) + OVER_ROOM_DB);
  }

  // Whether a note was heard since it was last forgotten.
  get plays() {
    return this.#heardMs >= HEARD_MS;
  }

  // Whether nothing but silence came, for so long.
  hasStopped(ms) {
    return !this.plays && this.#silentMs >= ms;
  }

  forget() {
    this.#heardMs = this.#silentMs = 0;
  }

  // The quietest that was heard so far is the room: whoever still plays while playing begins is no room.
  look() {
    this.db = this.levels()?.now().db ?? Number.NEGATIVE_INFINITY;
    if (!this.hasCheck && this.db > NO_SOUND_DB) this.roomDb = Math.min(this.roomDb ?? this.db, this.db);
  }

  // What was just looked at stands for the last `ms`. inOne: a note counts only if it lasts in one piece.
  listen(ms, { inOne }) {
    const passedMs = Math.min(ms, LOOK_MS);
    if (this.hears) this.#heardMs += passedMs;
    else if (inOne) this.#heardMs = 0;
    else this.#silentMs += passedMs;
  }
}
