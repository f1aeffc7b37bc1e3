// Set up and Play in one page, so that the phone asks for its microphone once.
//
// <script type="application/json" id="work">: {profile, exercise, plan, title, whole, again, tones: [{slot, title, beats}], done, beat_s,
// rest_after, check, last_check, check_url, after_url, begin_with}

import { whileAllowed } from "./allowed.js";
import { Board } from "./board.js";
import { CountIn } from "./count_in.js";
import { Levels } from "./levels.js";
import { Microphone, canRecord } from "./microphone.js";
import { listen, tell, to } from "./phases.js";
import { Run } from "./run.js";
import { sender } from "./shell.js";
import { setUp } from "./set_up.js";
import * as store from "./store.js";

const FULL_BITS_PER_SECOND = 128_000;
const DAY_BITS = 8 * 3_800_000; // twenty tones and what wraps them stay within 4 MB, at a slow tempo too
const RECORDED_BEATS = 20 * 11; // of such a day
const LOW_BITS_PER_SECOND = 64_000;
const SEE_RESULT_AFTER_MS = 8000;

const work = JSON.parse(document.getElementById("work").textContent);
const panels = [...document.querySelectorAll(".tone")];
let microphone = null;
let levels = null;
let run = null;
let board = null;
let shown = null; // the panel on the page
let lastBeat = null;
let opening = null;
let awake = null;
let isListening = false; // whether the levels are read; browsers begin with that after a tap
const countIn = new CountIn(ears);
let checking = null; // the check that runs; another or none once the player went on without it

// --- microphone and screen ---------------------------------------------------

function open() {
  opening ??= reopen().finally(() => (opening = null)); // asked twice at once, it opens once
  return opening;
}

async function reopen() {
  microphone?.close();
  await levels?.close();
  microphone = levels = null; // it may be refused now
  microphone = await Microphone.open(() => run?.pause("lost"));
  levels = new Levels(microphone.stream);
  isListening = await levels.wake();
  return microphone;
}

// For who listens and sounds by one clock.
async function ears() {
  if (!microphone?.works && !(await withMicrophone(open))) return null;
  return isListening ? { stream: microphone.stream, context: levels.context } : null;
}

const TROUBLE = { NotFoundError: "no_microphone", NotAllowedError: "not_allowed", SecurityError: "not_allowed" };

// Does what needs the microphone; a phone that doesn't give it, for whatever reason of its own, is told in words.
async function withMicrophone(work) {
  try {
    return await work();
  } catch (trouble) {
    // Older browsers' OverconstrainedError is no DOMException yet.
    if (!(trouble instanceof DOMException) && trouble.name !== "OverconstrainedError") throw trouble;
    to(TROUBLE[trouble.name] ?? "lost");
    return null;
  }
}

async function stayAwake() {
  try {
    awake = await navigator.wakeLock?.request("screen");
  } catch {
    awake = null; // refused when the battery is low: the page says in words to keep the screen on
  }
}

// --- set up -------------------------------------------------------------------

async function check() {
  if (run) return goOn(); // it was shut in the middle of playing
  const mine = (checking = {});
  const isWanted = () => checking === mine;
  if (!(await withMicrophone(open)) || !isWanted()) return;
  if (!isListening) return to("asking");
  const heard = await setUp(levels, microphone, isWanted, async () => countIn.isWanted && countIn.check());
  if (heard && isWanted()) await keepCheck(heard);
}

function withoutCheck() {
  checking = null;
  to("ready");
}

async function keepCheck(heard) {
  work.check = heard;
  if (work.check_url) {
    const body = JSON.stringify(heard);
    const note = { id: `check ${work.plan}`, profile: work.profile, url: work.check_url, type: "application/json", body };
    await store.leaveNote(note);
    sender.nudge();
  }
  history.replaceState(null, "", work.play_url);
  to("ready");
}

async function samePlace() {
  checking = null;
  const settings = { ...work.last_check.settings, same_place_as: work.last_check_on };
  await keepCheck({ ...work.last_check, settings });
}

// --- playing -------------------------------------------------------------------

async function begin() {
  if (!microphone?.works && !(await withMicrophone(open))) return;
  if (!(await countIn.settle()) || run) return; // it asks first, or was tapped twice
  stayAwake();
  navigator.storage?.persist?.(); // what waits here may be all there is of it
  const { check, spot } = work;
  work.about = { check, recorder: navigator.userAgent.slice(0, 200), ...(spot && { spot }), get count_in() { return countIn.name; } };
  const full = Math.min(FULL_BITS_PER_SECOND, Math.floor(DAY_BITS / (RECORDED_BEATS * work.beat_s)));
  work.bits_per_second = localStorage.getItem("footing-low-data") === "1" ? LOW_BITS_PER_SECOND : full;
  const leadMs = () => countIn.leadMs(levels.context);
  const again = async () => (microphone?.works ? microphone : open());
  run = new Run(work, { levels: () => levels, open: again, leadMs, committed: () => sender.nudge(), show });
  if (run.phase !== "done") await run.start();
}

function goOn(how = () => run.resume()) {
  levels?.wake(); // a call may have silenced it
  return run ? withMicrophone(how) : begin();
}

function show(one) {
  if (one.phase === "playing") showTone(one);
  else countIn.rest();
  if (one.phase === "resting") document.getElementById("rest-left").textContent = one.restLeftS || "";
  to(one.phase === "resting" && one.restLeftS === 0 ? "rested" : one.phase);
  const mayGoBack = one.canGoBack && ["paused", "hidden", "asleep", "lost", "broken"].includes(one.phase);
  document.querySelectorAll("[data-before]").forEach((button) => (button.hidden = !mayGoBack));
  if (one.phase === "done") seeResult();
}

function showTone(one) {
  if (shown !== panels[one.place] || one.beat < (lastBeat ?? 0) - 1) {
    shown?.setAttribute("hidden", "");
    shown = panels[one.place];
    shown.hidden = false;
    board = new Board(shown, work.check);
    tell(shown.dataset.tell);
  }
  const { beat } = one;
  const { beats } = one.tone;
  board.at(beat, beats);
  const { hears, db } = one.player;
  if (hears) board.hear(beat, db);
  countIn.follow(one, levels?.context);
  lastBeat = beat;
  board.hint(beat, hears);
}

async function seeResult() {
  awake?.release();
  const until = performance.now() + SEE_RESULT_AFTER_MS;
  while (performance.now() < until && navigator.onLine) {
    const waits = (await store.waiting(work.profile)).filter((row) => row.state === "ready");
    if (!waits.length) return location.assign(work.after_url);
    await new Promise((resolve) => setTimeout(resolve, 300));
  }
}

// --- stop, it hurts ---------------------------------------------------------------

async function hurts(form) {
  await run?.finish("hurts");
  to("hurts");
  const id = await store.leaveForm(work.profile, form);
  await sender.nudge();
  if (!(await store.notes(work.profile)).some((note) => note.id === id)) location.assign(form.action);
}

// --- the page ----------------------------------------------------------------------

listen({
  listen: check,
  same: samePlace,
  anyway: withoutCheck,
  start: begin,
  pause: () => run.pause(),
  resume: () => goOn(),
  again: () => goOn(() => run.again()),
  before: () => goOn(() => run.again({ before: true })),
  skip: () => goOn(() => run.skip()),
  finish: () => run.finish(),
});

document.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-hurts]")) return;
  event.preventDefault();
  hurts(event.target);
});

document.addEventListener("keydown", (event) => {
  if (event.key !== " " || event.target.closest("button, a, input, summary")) return;
  event.preventDefault();
  if (["playing", "waiting"].includes(run?.phase)) run.pause();
  else if (run?.phase === "paused") goOn();
});

whileAllowed(async () => {
  microphone?.close();
  await run?.drop();
  location.reload(); // as the page is now, it says why
});

document.addEventListener("visibilitychange", () => {
  if (document.hidden) run?.pause("hidden");
  else if (run && run.phase !== "done") stayAwake();
});

async function enter(lock) {
  if (!lock) return to("elsewhere");
  if (!(await store.works())) return to("cannot_keep");
  await store.adopt(work.profile);
  if (!work.whole && !work.again) {
    const here = (await store.recordings(work.profile)).filter((row) => row.plan === work.plan && row.state !== "coming");
    work.done.push(...here.flatMap((row) => row.slots));
  }
  sender.nudge();
  if (!work.whole && work.tones.every((tone) => work.done.includes(tone.slot))) to("all_played");
  else if (work.begin_with === "set_up") to("asking");
  else to("ready");
  const allowed = await navigator.permissions?.query({ name: "microphone" }).catch(() => null);
  if (document.body.dataset.phase === "asking" && allowed?.state === "granted") check();
  return new Promise(() => {}); // the lock is held until the page goes
}

if (!navigator.locks || !canRecord()) to("cannot_record");
else navigator.locks.request("footing-playing", { signal: AbortSignal.timeout(2000) }, enter).catch((trouble) => {
  if (trouble.name !== "TimeoutError" && trouble.name !== "AbortError") throw trouble;
  enter(null);
});
