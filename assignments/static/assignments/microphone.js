// The microphone with the phone's own processing off, and recordings that are saved slice by slice.

import { drop } from "./store.js";
import { addSlice, begin } from "./writing.js";

const TYPES = ["audio/webm;codecs=opus", "audio/mp4"]; // then whatever the browser likes best
const SLICE_MS = 1000;
const UNPROCESSED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

export function canListen() {
  return Boolean(navigator.mediaDevices?.getUserMedia && window.MediaRecorder);
}

export function canRecord() {
  return canListen() && Boolean(window.indexedDB);
}

// A recorder in the best form that this browser has.
export function recorderOn(microphone, bitsPerSecond) {
  const mimeType = TYPES.find((type) => MediaRecorder.isTypeSupported(type));
  return new MediaRecorder(microphone.stream, { mimeType, audioBitsPerSecond: bitsPerSecond });
}

export class Microphone {
  // `onLost` is called when a call, another app or the player takes the microphone away.
  static async open(onLost) {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: UNPROCESSED });
    return new Microphone(stream, onLost);
  }

  constructor(stream, onLost) {
    this.stream = stream;
    this.track = stream.getAudioTracks()[0];
    this.track.onmute = this.track.onended = () => onLost();
  }

  get works() {
    return this.track.readyState === "live" && !this.track.muted;
  }

  // What the browser says it really does. A key that is missing is unknown, not off.
  get settings() {
    const { echoCancellation, noiseSuppression, autoGainControl, sampleRate, channelCount } = this.track.getSettings();
    return { echoCancellation, noiseSuppression, autoGainControl, sampleRate, channelCount };
  }

  close() {
    this.track.onmute = this.track.onended = null;
    this.stream.getTracks().forEach((track) => track.stop());
  }
}

export class Recording {
  #places = 0;
  #writing = Promise.resolve();
  trouble = null; // what kept a slice from being recorded or written

  // `row`: what begin() keeps of it.
  constructor(microphone, row, bitsPerSecond) {
    this.recorder = recorderOn(microphone, bitsPerSecond);
    this.row = { ...row, key: crypto.randomUUID() };
    this.recorder.ondataavailable = ({ data }) => this.#keep(data);
    this.recorder.onerror = ({ error }) => (this.trouble = error ?? new DOMException("", "UnknownError"));
  }

  async start() {
    this.recorder.start(SLICE_MS);
    this.row.mime = this.recorder.mimeType;
    this.#writing = begin(this.row);
    await this.#writing;
  }

  #keep(data) {
    if (!data.size) return;
    const place = this.#places++;
    this.#writing = this.#writing.then(() => addSlice(this.row.key, place, data));
    this.#writing.catch((trouble) => (this.trouble = trouble)); // told at once, and by stop()
  }

  pause() {
    if (this.recorder.state === "recording") this.recorder.pause();
  }

  resume() {
    if (this.recorder.state === "paused") this.recorder.resume();
  }

  // Resolves when every slice is written. Rejects when the phone had no room for one.
  async stop() {
    if (this.recorder.state !== "inactive") {
      const stopped = new Promise((resolve) => (this.recorder.onstop = resolve));
      this.recorder.stop();
      await stopped;
    }
    await this.#writing;
  }

  async discard() {
    this.recorder.ondataavailable = null;
    if (this.recorder.state !== "inactive") this.recorder.stop();
    await this.#writing.catch(() => {}); // it is thrown away in any case
    await drop(this.row.key);
  }
}
