// Sends what waits on this phone, in order, one sender a phone, until the studio has confirmed each recording's bytes.

import * as store from "./store.js";

const WHOLE_BYTES = 2 * 1024 * 1024; // larger recordings go in parts
const PART_BYTES = 512 * 1024;
const LONGEST_WAIT_MS = 60_000;
const OTHER_TAB_MS = 5_000;

class Later extends Error {
  constructor(afterMs = 0) {
    super("later");
    this.afterMs = afterMs;
  }
}
class SignedOut extends Error {}
class Refused extends Error {}

export const CHANGED = "footing:waiting-changed"; // event on window: what waits has changed

export function token() {
  return document.cookie.match(/(?:^|; )(?:__Host-)?footing-csrf=([^;]+)/)?.[1] ?? "";
}

async function ask(url, options = {}) {
  let response;
  try {
    response = await fetch(url, { ...options, headers: { "X-CSRFToken": token(), ...options.headers } });
  } catch {
    throw new Later(); // no network, or the studio's computer is off
  }
  if (response.status === 429 || response.status >= 500) {
    throw new Later(1000 * Number(response.headers.get("Retry-After") ?? 0));
  }
  if (new URL(response.url).pathname === "/sign-in/") throw new SignedOut();
  const body = response.headers.get("Content-Type")?.includes("json") ? await response.json() : {};
  if (!response.ok && !body.code && [401, 403].includes(response.status)) throw new SignedOut();
  return { ok: response.ok, body };
}

async function sha256(blob) {
  const digest = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function sendParts(row, sound, from) {
  const url = `/api/uploads/${row.key}/`;
  let at = from;
  while (at < sound.size) {
    const headers = {
      "Content-Type": "application/octet-stream",
      "Upload-Offset": String(at),
      "Upload-Length": String(sound.size),
    };
    const part = sound.slice(at, at + PART_BYTES);
    const answer = await ask(url, { method: "PATCH", body: part, headers });
    if (!answer.ok && answer.body.code !== "offset") throw new Refused(answer.body.text);
    at = answer.body.offset;
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

async function upload(row, sound, offset) {
  const inParts = sound.size > WHOLE_BYTES;
  if (inParts) await sendParts(row, sound, offset);
  return ask("/api/takes/", { method: "POST", body: form(row, inParts ? null : sound) });
}

async function send(row) {
  const sound = await store.audio(row);
  if (!sound.size) return store.drop(row.key); // nothing was recorded before the recorder was lost
  const { body: known } = await ask(`/api/uploads/${row.key}/`);
  const { ok, body } = (await stored(row, known)) ?? (await upload(row, sound, known.offset));
  if (!ok) throw new Refused(body.text ?? Object.values(body).flat().join(" "));
  if (body.sha256 !== (await sha256(sound))) throw new Refused(""); // other bytes arrived: the sound stays here
  return store.sent(row.key, body.id);
}

async function deliver(note) {
  const headers = { "Content-Type": note.type };
  await ask(note.url, { method: "POST", body: note.body, headers });
  await store.dropNote(note.id); // the studio took it, or has said that it never will
}

// Wi-Fi only, as chosen in Mine, where the browser can tell what line it is on.
export function heldForWifi() {
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
    while (this.#again) {
      this.#again = false;
      await navigator.locks.request("footing-sending", { ifAvailable: true }, (lock) =>
        lock ? this.#round() : this.#later(OTHER_TAB_MS),
      );
    }
    this.#running = false;
  }

  async #round() {
    this.#say("sending");
    try {
      for (const note of await store.notes(this.profile)) await deliver(note);
      if (heldForWifi() && !this.anyLine) return this.#say("held");
      for (const row of await store.recordings(this.profile)) {
        if (row.state === "ready") await this.#one(row);
      }
    } catch (trouble) {
      if (trouble instanceof SignedOut) return this.#say("signed_out");
      if (!(trouble instanceof Later)) throw trouble;
      this.#wait = Math.min(LONGEST_WAIT_MS, Math.max(2 * this.#wait, 1000));
      this.#later(Math.max(this.#wait, trouble.afterMs));
      return this.#say("waiting");
    }
    this.#wait = 0;
    return this.#say("idle");
  }

  async #one(row) {
    try {
      await send(row);
    } catch (trouble) {
      if (!(trouble instanceof Refused)) throw trouble;
      await store.mark(row.key, { state: "refused", trouble: trouble.message });
    }
    this.#wait = 0;
    this.#say("sending");
  }

  #later(ms) {
    this.#timer = setTimeout(() => this.nudge(), ms);
  }

  #say(state) {
    this.state = state;
    dispatchEvent(new CustomEvent(CHANGED, { detail: { state } }));
  }
}
