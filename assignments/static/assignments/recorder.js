// A sound recorded into a form. The form's field is a file either way, so whoever chooses one needs no microphone;
// what was recorded stays in the page until the studio has it.

import { hush } from "./hear.js";
import { Microphone, canListen, recorderOn } from "./microphone.js";
import { token } from "./sender.js";

const BITS_PER_SECOND = 128_000;
const LOOK_EVERY_MS = 200;
const WITHOUT_WORDS = { 403: "not_taken", 404: "not_taken", 413: "too_large" }; // what a page that came instead means
const TROUBLES = { NotAllowedError: "not_allowed", SecurityError: "not_allowed", NotFoundError: "no_microphone" };

class Recorder {
  #microphone = null;
  #recorder = null;
  #watch = 0;

  constructor(box) {
    this.box = box;
    this.form = box.closest("form");
    this.file = box.querySelector("input[type=file]");
    this.button = box.querySelector("[data-do=record]");
    this.clock = box.querySelector("[data-clock]");
    this.mine = box.querySelector("audio");
    this.words = { record: this.button.textContent, stop: this.button.dataset.stop, again: this.button.dataset.again };
    this.longestS = Number(box.dataset.longestS);
    this.isSent = true; // nothing waits to be sent, and nothing is being recorded
    this.button.addEventListener("click", () => (this.#recorder ? this.stop() : this.start()));
    this.file.addEventListener("change", () => this.#hold());
    this.form.addEventListener("submit", (event) => this.#send(event));
    addEventListener("beforeunload", (event) => !this.isSent && event.preventDefault());
    if (canListen()) box.querySelector("[data-live]").hidden = false;
    else this.tell("cannot_record");
  }

  tell(what) {
    for (const words of this.box.querySelectorAll("[data-say]")) words.hidden = words.dataset.say !== what;
  }

  async start() {
    hush();
    this.mine.pause();
    this.button.disabled = true;
    try {
      this.#microphone = await Microphone.open(() => this.stop("lost"));
      this.#record();
      this.tell("recording");
    } catch (trouble) {
      this.#microphone?.close();
      this.tell(TROUBLES[trouble.name] ?? "no_sound");
    }
    this.button.disabled = false;
  }

  #record() {
    const slices = [];
    this.#recorder = recorderOn(this.#microphone, BITS_PER_SECOND);
    this.#recorder.ondataavailable = ({ data }) => slices.push(data);
    this.#recorder.onstop = () => this.#keep(new Blob(slices, { type: this.#recorder.mimeType }));
    this.#recorder.start();
    this.isSent = false;
    const since = performance.now();
    const tick = () => {
      const seconds = (performance.now() - since) / 1000;
      this.clock.textContent = `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
      if (seconds >= this.longestS) this.stop("full");
    };
    tick();
    this.#watch = setInterval(tick, LOOK_EVERY_MS);
    this.button.textContent = this.words.stop;
    this.button.classList.add("recording");
  }

  stop(why = "recorded") {
    if (this.#recorder?.state !== "recording") return;
    this.why = why;
    clearInterval(this.#watch);
    this.#recorder.stop();
    this.#microphone.close();
  }

  // The recording becomes the chosen file, so that the form sends it as any other.
  #keep(blob) {
    this.#recorder = null;
    const ending = blob.type.includes("mp4") ? "m4a" : "webm";
    const chosen = new DataTransfer();
    chosen.items.add(new File([blob], `recorded.${ending}`, { type: blob.type }));
    this.file.files = chosen.files;
    this.button.textContent = this.words.again;
    this.button.classList.remove("recording");
    this.#hold();
    this.tell(blob.size ? this.why : "no_sound");
    this.next?.();
    this.next = null;
  }

  // Every sound has a key of its own: what was sent before it, answered or not, never stands for it.
  #hold() {
    const [sound] = this.file.files;
    if (this.mine.src) URL.revokeObjectURL(this.mine.src);
    this.mine.hidden = !sound;
    if (sound) this.mine.src = URL.createObjectURL(sound);
    this.isSent = !sound;
    if (sound && crypto.randomUUID) this.form.elements.key.value = crypto.randomUUID();
  }

  async #send(event) {
    if (this.#recorder) {
      event.preventDefault();
      this.next = () => this.form.requestSubmit();
      this.stop();
      return;
    }
    if (!this.file.files.length) return; // words alone go the plain way, and the studio says what is missing
    event.preventDefault();
    if (this.isSending) return;
    this.isSending = true;
    this.tell("sending");
    try {
      await this.#heed(await this.#post());
    } catch {
      this.tell("not_sent");
    }
    this.isSending = false;
  }

  // The page's own token is too old once somebody signed in again elsewhere; the cookie's never is.
  #post() {
    const body = new FormData(this.form);
    body.delete("csrfmiddlewaretoken");
    const headers = { "X-Requested-With": "fetch", "X-CSRFToken": token() };
    return fetch(this.form.action, { method: "POST", body, headers });
  }

  // What is no answer of the form itself is a page: of signing in, or of whatever stands before the studio.
  async #heed(answer) {
    if (answer.redirected) {
      this.tell("signed_out");
    } else if (!answer.headers.get("Content-Type")?.includes("json")) {
      this.tell(WITHOUT_WORDS[answer.status] ?? "not_sent");
    } else if (answer.ok) {
      const { to } = await answer.json();
      this.isSent = true;
      location.assign(to);
    } else {
      this.box.querySelector("[data-say=refused]").textContent = (await answer.json()).text;
      this.tell("refused");
    }
  }
}

for (const box of document.querySelectorAll("[data-recorder]")) new Recorder(box);
