// Sends what waits on this phone, in order, one sender a phone, until the studio has confirmed each recording's bytes.

import * as store from "./store.js";

const WHOLE_BYTES = 2 * 1024 * 1024; // larger recordings go in parts
const PART_BYTES = 512 * 1024;
const LONGEST_WAIT_MS = 60_000;
const OTHER_TAB_MS = 5_000;
const ANSWER_MS = 60_000; // a request that takes longer hangs on a line that is dead: it is let go and tried again
const SLOWEST_BYTES_PER_MS = 4; // what a slow line brings up: so much longer may a request with sound take
const LONGEST_ASKED_MS = 24 * 3600 * 1000; // for more than some weeks browsers don't wait at all

class Later extends Error {
  // words: the studio's own, when it says why; ofOne: its program broke over this one thing
  constructor({ afterMs = 0, words = "", ofOne = false } = {}) {
    super("later");
    Object.assign(this, { afterMs, words, ofOne });
  }
}
class SignedOut extends Error {}
class Refused extends Error {
  // code: what stands against it, as the studio calls it
  constructor(words, code = "") {
    super(words);
    this.code = code;
  }
}

export const CHANGED = "footing:waiting-changed"; // event on window: what waits has changed
export const NOT_ALLOWED = "footing:not-allowed"; // event on window: a recording was refused, since nobody at home agrees to it

export function token() {
  return document.cookie.match(/(?:^|; )(?:__Host-)?footing-csrf=([^;]+)/)?.[1] ?? "";
}

// How long the studio, or a machine on the way to it, wants to be left alone: in seconds, or a date, which says nothing here.
function askedMs(response) {
  const ms = 1000 * Number(response.headers.get("Retry-After"));
  return ms > 0 ? Math.min(ms, LONGEST_ASKED_MS) : 0;
}

// bytes: of sound that goes with it
async function ask(url, { bytes = 0, ...options } = {}) {
  let response;
  let body = {};
  try {
    const headers = { "X-CSRFToken": token(), "Footing-For": document.body.dataset.profile, ...options.headers };
    const signal = AbortSignal.timeout(ANSWER_MS + bytes / SLOWEST_BYTES_PER_MS);
    response = await fetch(url, { ...options, headers, signal });
    if (response.headers.get("Content-Type")?.includes("json")) body = await response.json();
  } catch {
    throw new Later(); // no network, a dead line, or the studio's computer is off
  }
  if (response.status === 429 || response.status >= 500) {
    const words = body.code === "full_day" ? body.text : "";
    throw new Later({ afterMs: askedMs(response), words, ofOne: response.status === 500 });
  }
  if (new URL(response.url).pathname === "/sign-in/") throw new SignedOut();
  if (body.code === "other_person") throw new SignedOut(); // the device was handed on while this page stood open
  if (!response.ok && !body.code && [401, 403].includes(response.status)) throw new SignedOut();
  return { ok: response.ok, body };
}

// The sound from byte `from` on, in parts.
async function* partsOf(row, from) {
  let part = new Blob();
  let passed = 0;
  for await (const sound of store.slices(row.key)) {
    part = new Blob([part, sound.slice(Math.max(0, from - passed))]);
    passed += sound.byteLength;
    for (; part.size >= PART_BYTES; part = part.slice(PART_BYTES)) yield part.slice(0, PART_BYTES);
  }
  if (part.size) yield part;
}

async function sendParts(row, from) {
  let at = from;
  for await (const part of partsOf(row, from)) {
    const headers = {
      "Content-Type": "application/octet-stream",
      "Upload-Offset": String(at),
      "Upload-Length": String(row.bytes),
    };
    const { ok, body } = await ask(`/api/uploads/${row.key}/`, { method: "PATCH", body: part, bytes: part.size, headers });
    if (body.code === "offset") return sendParts(row, body.offset); // it has more than it said, or less
    if (!ok) throw new Refused(body.text, body.code);
    at = body.offset;
  }
}

function form(row, sound) {
  const fields = new FormData();
  fields.set("client_key", row.key);
  fields.set("exercise", row.exercise);
  if (row.plan) fields.set("plan", row.plan);
  if (row.slots?.length) fields.set("slots", row.slots.join(","));
  fields.set("recorder", JSON.stringify(row.about ?? {}));
  if (sound) fields.set("audio", sound, "take");
  else fields.set("parts", "true");
  return fields;
}

// The take that the studio made of this recording, when only its answer was lost on the way; else null.
async function stored(row, known) {
  return known.stored ? ask(`/api/takes/${known.take}/`) : null;
}

async function upload(row, offset) {
  const inParts = row.bytes > WHOLE_BYTES;
  if (inParts) await sendParts(row, offset);
  const sound = inParts ? null : await store.audio(row);
  return ask("/api/takes/", { method: "POST", body: form(row, sound), bytes: sound?.size });
}

async function sha256Of(row) {
  const { sha256 } = await import("./sha256.js").catch(() => {
    throw new Later(); // the network has just gone
  });
  return sha256(store.slices(row.key));
}

async function send(row) {
  if (!row.bytes) return store.drop(row.key); // nothing was recorded before the recorder was lost
  const { body: known } = await ask(`/api/uploads/${row.key}/`);
  const { ok, body } = (await stored(row, known)) ?? (await upload(row, known.offset));
  if (!ok) throw new Refused(body.text ?? Object.values(body).flat().join(" "), body.code);
  if (body.sha256 !== (await sha256Of(row))) throw new Refused(""); // other bytes arrived: the sound stays here
  return store.sent(row.key, body.id);
}

async function deliver(note) {
  const headers = { "Content-Type": note.type };
  await ask(note.url, { method: "POST", body: note.body, headers });
  await store.dropNote(note.id); // the studio took it, or has said that it never will
}

// Wi-Fi only, as chosen in Mine, where the browser can tell what line it is on.
function heldForWifi() {
  return localStorage.getItem("footing-wifi-only") === "1" && navigator.connection?.type === "cellular";
}

export class Sender {
  #wait = 0;
  #timer = 0;
  #running = false;
  #again = false;

  constructor(profile) {
    this.profile = profile;
    this.state = "idle"; // idle, sending, waiting (tries again by itself), signed_out, held (for Wi-Fi)
    this.words = ""; // why the studio lets it wait
  }

  start() {
    addEventListener("online", () => this.nudge());
    document.addEventListener("visibilitychange", () => document.hidden || this.nudge());
    navigator.locks.request("footing-playing", { ifAvailable: true }, async (lock) => {
      if (lock) await store.adopt(this.profile);
    }).then(() => this.nudge());
  }

  async nudge({ anyLine = false } = {}) {
    if (!navigator.locks) return; // an address without https: nothing was recorded here that could wait
    clearTimeout(this.#timer);
    this.anyLine ||= anyLine;
    this.#again = true;
    if (this.#running) return;
    this.#running = true;
    try {
      while (this.#again) {
        this.#again = false;
        await navigator.locks.request("footing-sending", { ifAvailable: true }, (lock) =>
          lock ? this.#round() : this.#later(OTHER_TAB_MS),
        );
      }
    } finally {
      this.#running = false;
    }
  }

  async #round() {
    this.#say("sending");
    try {
      if (await this.#everything()) return this.#say("held");
    } catch (trouble) {
      if (trouble instanceof SignedOut) return this.#say("signed_out");
      if (!(trouble instanceof Later)) reportError(trouble); // what nobody thought of goes on later too
      this.#wait = Math.min(LONGEST_WAIT_MS, Math.max(2 * this.#wait, 1000));
      this.#later(Math.max(this.#wait, trouble.afterMs ?? 0));
      return this.#say("waiting", trouble.words);
    }
    this.#wait = 0;
    return this.#say("idle");
  }

  // Whether recordings wait for Wi-Fi. What breaks the studio's program each time holds up nothing behind it.
  async #everything() {
    let stuck = null;
    const go = async (work) => {
      try {
        await work();
      } catch (trouble) {
        if (!trouble.ofOne) throw trouble;
        stuck ??= trouble;
      }
    };
    for (const note of await store.notes(this.profile)) await go(() => deliver(note));
    const isHeld = heldForWifi() && !this.anyLine;
    for (const row of isHeld ? [] : await store.recordings(this.profile)) {
      if (row.state === "ready") await go(() => this.#one(row));
    }
    if (stuck) throw stuck;
    return isHeld;
  }

  async #one(row) {
    try {
      await send(row);
    } catch (trouble) {
      if (!(trouble instanceof Refused)) throw trouble;
      await store.mark(row.key, { state: "refused", trouble: trouble.message });
      if (trouble.code === "no_consent") dispatchEvent(new Event(NOT_ALLOWED));
    }
    this.#wait = 0;
    this.#say("sending");
  }

  #later(ms) {
    this.#timer = setTimeout(() => this.nudge(), ms);
  }

  #say(state, words = "") {
    Object.assign(this, { state, words });
    dispatchEvent(new CustomEvent(CHANGED, { detail: { state } }));
  }
}
