// Chosen and shared files go the way of a recording: kept on this phone, sent in parts that can go on later, once.
// Of each the page says which tones are in it, and asks only where that can't be told.
//
// <script type="application/json" id="work">: {profile, exercise, plan, title, whole, tones: [{slot, title, sounding_midi}], done,
// beat_s, a4_hz, after_url}

import "./inbox.js";
import { tonesIn } from "./listening.js";
import { match } from "./matching.js";
import { CHANGED } from "./sender.js";
import { profile, sender, size } from "./shell.js";
import * as store from "./store.js";
import { keepFile } from "./writing.js";

const MOST_BYTES = 150 * 1024 * 1024; // as the studio takes
const MOST_OPENED_BYTES = { packed: 6 * 1024 * 1024, plain: 40 * 1024 * 1024 }; // some six minutes: more would fill a phone's memory
const RATE_HZ = 16_000;
const READ_BYTES = 4 * 1024 * 1024; // at once: a phone's memory holds no long recording twice
const TROUBLE = { QuotaExceededError: "full", NotReadableError: "unread", NotFoundError: "unread" };
const MAY_STILL_BE_READ = ["unread", "stuck"]; // which stay in the inbox

const { inbox } = self;
const work = JSON.parse(document.getElementById("work").textContent);
const form = document.getElementById("send-file");
const list = document.getElementById("files");
const pattern = document.getElementById("file-row");
const asked = work.tones.filter((tone) => !work.done.includes(tone.slot));
const wanted = asked.length ? asked : work.tones; // all were played: one is sent again
const readings = []; // promises, one for each time that files came in
let sending = null; // what goes on since somebody said to send
const brought = []; // {file, print, shared (its key in the inbox), row, heard, told (slots), said (by hand), problem, key (once kept)}

// --- what is in a file --------------------------------------------------------

async function opened(file) {
  if (file.size > MOST_OPENED_BYTES[/wav/.test(file.type) ? "plain" : "packed"]) return null;
  const sound = await new OfflineAudioContext(1, 1, RATE_HZ).decodeAudioData(await file.arrayBuffer());
  return tonesIn(sound.getChannelData(0), RATE_HZ, work.beat_s, work.a4_hz);
}

function problemOf(file) {
  if (!file.size) return "empty";
  if (file.size > MOST_BYTES) return "too_large";
  return /^(audio|video)\/|^$/.test(file.type) ? null : "no_sound";
}

function bring(files, shared) {
  readings.push(look(files, shared));
  return readings.at(-1);
}

async function look(files, shared = []) {
  for (const [place, file] of files.entries()) {
    const one = { file, shared: shared[place], problem: problemOf(file), print: null };
    try {
      if (!one.problem) one.print = await printOf(file);
    } catch (trouble) {
      one.problem = problemIn(trouble);
    }
    if (one.print && brought.some((other) => other.print === one.print)) one.problem = "twice";
    one.row = rowOf(one);
    brought.push(one);
    list.append(one.row);
    if (!one.problem && !work.whole) one.heard = await opened(file).catch(() => null); // the studio opens more kinds
  }
  tell();
}

async function fingerprint(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest.slice(0, 16)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function printOf(file) {
  const prints = [];
  for (let at = 0; at < file.size; at += READ_BYTES) {
    prints.push(await fingerprint(await file.slice(at, at + READ_BYTES).arrayBuffer()));
  }
  return prints.length === 1 ? prints[0] : fingerprint(new TextEncoder().encode(prints.join()));
}

// What keeps a file from being read or kept, by the name of its words on the page: a cloud's file that isn't on the phone …
// What nobody thought of is an error for the console too; the other files go their way.
function problemIn(trouble) {
  if (!TROUBLE[trouble.name]) reportError(trouble);
  return TROUBLE[trouble.name] ?? "stuck";
}

// The same bytes for the same tones are the same recording; told wrongly, it can be sent again.
async function keyOf({ print }, slots) {
  const answers = `${print} ${work.plan ?? work.exercise} ${slots}`;
  const hex = await fingerprint(new TextEncoder().encode(answers));
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

// --- what the page says of it -------------------------------------------------

function tell() {
  const sound = brought.filter((one) => !one.problem && !one.key);
  const told = work.whole ? sound.map(() => slotsOf(wanted)) : match(sound.map((one) => one.heard), wanted);
  sound.forEach((one, place) => {
    one.told = told[place];
    offer(one);
  });
  for (const one of brought.filter((other) => !other.key)) say(one, one.problem ?? (one.told ? "told" : whyAsked(one)));
}

const slotsOf = (tones) => tones.map((tone) => tone.slot);

function whyAsked({ heard }) {
  if (!heard) return "unopened";
  return heard.length ? "ask" : "nothing_heard";
}

function say({ row }, name) {
  for (const words of row.querySelectorAll("[data-word]")) words.hidden = !words.dataset.word.split(" ").includes(name);
}

function rowOf(one) {
  const row = pattern.content.firstElementChild.cloneNode(true);
  const select = row.querySelector("select");
  row.querySelector("h3").textContent = one.file.name;
  row.querySelector("p").textContent = size(one.file.size);
  select.setAttribute("aria-label", `${one.file.name}: ${list.dataset.question}`);
  select.addEventListener("change", () => (one.said = select.value));
  return row;
}

function titleOf(slots) {
  const titles = slots.map((slot) => work.tones.find((tone) => tone.slot === slot).title);
  return titles.length > 3 ? `${titles[0]} … ${titles.at(-1)} (${titles.length})` : titles.join(", ");
}

// As many tones in a row as were heard, from any one on; what was told; all of them; none.
function offer({ row, told, said, heard }) {
  const many = heard?.length || 1;
  const runs = work.whole ? [] : wanted.slice(many - 1).map((_, first) => slotsOf(wanted.slice(first, first + many)));
  const { choose, every, none } = list.dataset;
  const choices = new Map(runs.map((slots) => [slots.join(), titleOf(slots)]));
  if (told) choices.set(told.join(), titleOf(told));
  if (wanted.length > 1) choices.set(slotsOf(wanted).join(), work.whole ? work.title : every);
  const options = [["", choose], ...choices, ["none", none]].map(([value, words]) => new Option(words, value));
  const select = row.querySelector("select");
  select.replaceChildren(...options);
  select.value = said ?? told?.join() ?? "";
  select.hidden = false;
}

// --- sending -------------------------------------------------------------------

async function keep(one, slots) {
  const { exercise, plan } = work;
  const key = await keyOf(one, slots);
  const about = { file: true, ...(form.elements.moved?.checked && { spot: "moved" }) };
  const title = work.whole ? work.title : titleOf(slots);
  await keepFile({ key, profile, exercise, plan, slots, title, about }, one.file);
  one.key = key;
  one.row.querySelector("select").disabled = true;
}

async function settle(one) {
  const { value } = one.row.querySelector("select");
  if (value !== "none") await keep(one, value.split(",").map(Number));
  if (one.shared) await inbox.drop([one.shared]);
  if (value === "none") leaveOut(one);
}

function leaveOut(one) {
  one.row.remove();
  brought.splice(brought.indexOf(one), 1);
}

// Whoever taps before everything is read means all of it.
async function send() {
  await Promise.allSettled(readings); // what broke is in the console; the rest can be sent
  if (!brought.length) return form.submit(); // the studio says what is missing
  for (const one of brought.filter((other) => other.problem)) {
    if (one.shared && !MAY_STILL_BE_READ.includes(one.problem)) await inbox.drop([one.shared]);
    leaveOut(one);
  }
  const open = brought.filter((one) => !one.key);
  const unsaid = open.find((one) => !one.row.querySelector("select").value);
  if (unsaid) return unsaid.row.querySelector("select").focus();
  for (const one of open) {
    await settle(one).catch((trouble) => say(one, problemIn(trouble)));
  }
  sender.nudge();
  return follow();
}

// Where each one is; when the studio has all of them, on to what it heard.
async function follow() {
  const rows = await store.recordings(profile);
  const kept = brought.filter((one) => one.key);
  const found = kept.map((one) => rows.find((row) => row.key === one.key));
  found.forEach((row, place) => {
    if (row?.state === "refused") kept[place].row.querySelector("[data-word=refused] b").textContent = row.trouble;
    say(kept[place], ["sent", "refused"].includes(row?.state) ? row.state : "waits");
  });
  if (!found.length || found.length < brought.length || found.some((row) => row?.state !== "sent")) return;
  location.assign(found.length === 1 ? `/takes/${found[0].take}/` : work.after_url);
}

// --- the page --------------------------------------------------------------------

async function fromInbox() {
  const shared = await inbox.of(profile);
  await bring(shared.map((row) => row.file), shared.map((row) => row.key));
  const unclaimed = await inbox.of("");
  const ask = document.getElementById("whose-files");
  ask.hidden = unclaimed.length === 0;
  ask.querySelector("button").onclick = async () => {
    await inbox.claim(unclaimed, profile);
    ask.hidden = true;
    await bring(unclaimed.map((row) => row.file), unclaimed.map((row) => row.key));
  };
}

function byTime(a, b) {
  return a.lastModified - b.lastModified || a.name.localeCompare(b.name, undefined, { numeric: true });
}

function begin() {
  document.getElementById("by-hand").hidden = true; // what is in each file is said beside it
  form.elements.chosen.multiple = true;
  form.addEventListener("change", ({ target }) => {
    if (target.type !== "file") return;
    bring([...target.files].sort(byTime));
    target.value = "";
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    sending ??= send().finally(() => (sending = null));
  });
  addEventListener(CHANGED, follow);
  for (const words of document.querySelectorAll("[data-arrived]")) words.hidden = `?${words.dataset.arrived}` !== location.search;
  readings.push(fromInbox());
}

if (window.indexedDB && navigator.locks && (await store.works())) begin(); // else the plain form, one file at a time
