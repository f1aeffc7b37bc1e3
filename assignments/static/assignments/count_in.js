// How the player is counted in: by light, which is always there; with a touch in the hand; or by a click in headphones, once the
// microphone was found not to hear it. That holds for one day, and as long as nothing else is plugged in.
//
// <div id="count-in" data-ear="address of click_ear.js">: the choice; [data-click]: what there is to say of it.

import { tell } from "./phases.js";

const TOUCH = "footing-vibrate"; // "1" or "0"; Mine offers it too
const CLICK = "footing-click"; // there when a click is wanted: {on, plugged} of the check that it passed, {} before
const TOUCH_MS = 30;

const box = document.getElementById("count-in");
const choices = box.querySelector("fieldset");

const wanted = () => JSON.parse(localStorage.getItem(CLICK) ?? "null");
const today = () => new Date().toDateString();

// What sound goes out by and comes in by; its names are known once the microphone is open.
async function plugged() {
  const devices = await navigator.mediaDevices.enumerateDevices();
  return devices.map(({ kind, deviceId, label }) => `${kind} ${deviceId} ${label}`).sort().join("\n");
}

function say(name) {
  for (const words of document.querySelectorAll("[data-click]")) words.hidden = words.dataset.click !== name;
  const words = box.querySelector(`[data-click="${name}"]`);
  if (!words) return;
  tell(words.textContent);
  words.scrollIntoView({ block: "center" }); // a small phone's band would lie over them
}

export class CountIn {
  #module = null; // click.js, once somebody wants it
  #clicks = null; // there as long as they may sound
  #checking = Promise.resolve();
  #beat = null; // that was felt last

  // ears(): opens the microphone, and resolves with {stream, context}, or with null when there is none or it sleeps
  constructor(ears) {
    this.ears = ears;
    choices.addEventListener("change", ({ target }) => this.#choose(target.value));
    choices.querySelector("[value=touch]").closest("label").hidden = !navigator.vibrate;
    navigator.mediaDevices?.addEventListener("devicechange", () => this.#askAgain());
    this.#show();
  }

  get name() {
    if (this.#clicks) return "click";
    return localStorage.getItem(TOUCH) === "1" && navigator.vibrate ? "touch" : "light";
  }

  get isWanted() {
    return wanted() !== null;
  }

  leadMs(context) {
    return this.#clicks?.leadMs(context) ?? 0;
  }

  // With every look of the page at its clock. Neither a touch nor a click that would be heard comes into a take.
  follow(run, context) {
    if (this.#clicks) return this.#clicks.follow(run, context);
    const beat = Math.floor(run.beat);
    if (this.name === "touch" && beat < 0 && beat !== this.#beat && !run.records) navigator.vibrate(TOUCH_MS);
    this.#beat = beat;
  }

  // Nobody plays now: what was handed over for the next beats is not to be heard.
  rest() {
    this.#clicks?.hush();
  }

  // Before playing: whether it is clear how to count in. What was checked earlier today holds with the same headphones.
  async settle() {
    await this.#checking;
    const check = wanted();
    if (!check || this.#clicks) return true;
    if (check.on !== today() || check.plugged !== (await plugged())) {
      this.#byLight("again");
      return false;
    }
    const isLoaded = await this.#load();
    if (isLoaded) this.#clicks = new this.#module.Clicks();
    return isLoaded;
  }

  // In a quiet room: does the microphone hear a click?
  check() {
    this.#checking = this.#listen();
    return this.#checking;
  }

  async #listen() {
    const focused = choices.querySelector(":focus"); // which a shut choice loses
    choices.disabled = true;
    say("listening");
    try {
      const ears = await this.ears();
      if (!ears) return this.#byLight("untold");
      if (await this.#load()) await this.#heed(await this.#module.areHeard(ears.context, ears.stream, box.dataset.ear));
    } catch (trouble) {
      if (!(trouble instanceof DOMException)) throw trouble;
      this.#byLight("untold"); // no network for it, or its sound was shut meanwhile
    } finally {
      choices.disabled = false;
      focused?.focus({ preventScroll: true });
    }
  }

  async #heed(isHeard) {
    if (isHeard !== false) return this.#byLight(isHeard ? "heard" : "untold");
    localStorage.setItem(CLICK, JSON.stringify({ on: today(), plugged: await plugged() }));
    this.#clicks = new this.#module.Clicks();
    say("unheard");
  }

  // The first time it takes a network.
  async #load() {
    this.#module ??= await import("./click.js").catch(() => null);
    if (!this.#module) this.#byLight("unloaded");
    return this.#module !== null;
  }

  #byLight(why) {
    this.#withoutClicks();
    localStorage.removeItem(CLICK);
    this.#show();
    say(why);
  }

  #withoutClicks() {
    this.rest();
    this.#clicks = null;
  }

  #choose(name) {
    this.#withoutClicks();
    localStorage.setItem(TOUCH, name === "touch" ? "1" : "0");
    localStorage.removeItem(CLICK);
    if (name === "click") localStorage.setItem(CLICK, "{}");
    if (name === "click" && document.body.dataset.phase !== "asking") return this.check();
    return say(name === "click" ? "later" : null);
  }

  async #askAgain() {
    const check = wanted();
    if (check?.plugged && check.plugged !== (await plugged())) this.#byLight("again");
  }

  #show() {
    choices.querySelector(`[value=${this.isWanted ? "click" : this.name}]`).checked = true;
  }
}
