// On every page of a student: sends what waits on this phone, says so in the ground, keeps Today for days without network, and
// says when it is such a kept copy that one sees.

import "./inbox.js";
import { CHANGED, Sender } from "./sender.js";
import * as store from "./store.js";

export const profile = document.body.dataset.profile;
export const sender = new Sender(profile);
const { lang } = document.documentElement;
export const locale = lang === "en" ? "en-GB" : lang; // the day before the month, as on every page

export function size(bytes) {
  const megabytes = bytes / 1_000_000;
  return `${megabytes.toLocaleString(locale, { maximumFractionDigits: 1, minimumFractionDigits: 1 })} MB`;
}

const place = document.getElementById("waits");
const whenNothingWaits = place?.textContent;
const next = document.getElementById("next");
const UNFINISHED = ["coming", "recording"];

async function sayWhatWaits() {
  const rows = await store.waiting(profile);
  const bytes = rows.reduce((sum, row) => sum + row.bytes, 0);
  const fill = (words) => words.replace("{n}", rows.length).replace("{size}", size(bytes));
  const { waits, offline, held, signedOut, refused, byItself } = place.dataset;
  if (rows.length && sender.state === "signed_out") place.textContent = fill(signedOut);
  else if (rows.length && sender.state === "held") place.textContent = fill(held);
  else if (rows.length && rows.every((row) => row.state === "refused")) place.textContent = fill(refused);
  else if (rows.length && sender.words) place.textContent = `${fill(waits)}. ${sender.words} ${byItself}`;
  else if (!navigator.onLine) place.textContent = rows.length ? `${fill(waits)}. ${offline}` : offline;
  else place.textContent = rows.length ? fill(waits) : whenNothingWaits;
}

function sayOfWhen(line, at) {
  const when = new Date(at).toLocaleString(locale, { weekday: "long", day: "numeric", month: "long", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  line.textContent = line.dataset.words.replace("{when}", when);
  line.hidden = false;
}

async function sayWhatCameIn(line) {
  line.hidden = (await self.inbox.of(profile)).length === 0;
}

// <div id="next" data-plan="…" data-slots="0 1 2"> (not played, as far as the page knows): of its [data-as] one shows.
async function sayWhatIsNext() {
  const { plan, slots } = next.dataset;
  const rows = (await store.recordings(profile)).filter((row) => row.plan === plan && !UNFINISHED.includes(row.state));
  const played = new Set(rows.flatMap((row) => row.slots));
  const asked = slots.trim().split(" ").map(Number);
  const left = asked.filter((slot) => !played.has(slot)).length;
  if (left === asked.length) return;
  for (const one of next.querySelectorAll("[data-as]")) one.hidden = one.dataset.as !== (left ? "begun" : "played");
}

// A form that can wait: <form data-waits="id of what is shown in its place">.
async function keepForm(form) {
  await store.leaveForm(profile, form);
  form.hidden = true;
  document.getElementById(form.dataset.waits).hidden = false;
}

async function keepForLater() {
  const registration = await navigator.serviceWorker.register("/service-worker.js");
  await navigator.serviceWorker.ready;
  registration.active?.postMessage({ keep: ["/today/", "/today/set-up/", "/today/play/", "/today/files/", "/hurts/", "/mine/"] });
}

const kept = document.getElementById("kept");
const { keptAt } = document.body.dataset;
if (kept && keptAt) sayOfWhen(kept, keptAt);

async function begin() {
  if (!(await store.works())) return; // the playing page says so
  if (place) {
    addEventListener(CHANGED, sayWhatWaits);
    addEventListener("online", sayWhatWaits);
    addEventListener("offline", sayWhatWaits);
    sayWhatWaits();
  }
  if (next) {
    addEventListener(CHANGED, sayWhatIsNext);
    sayWhatIsNext();
  }
  const shared = document.getElementById("shared-here");
  if (shared) sayWhatCameIn(shared);
  sender.start();
}

if (window.indexedDB && navigator.locks) begin();
if ("serviceWorker" in navigator) keepForLater();
document.addEventListener("submit", (event) => {
  if (!event.target.dataset.waits || navigator.onLine) return;
  event.preventDefault();
  keepForm(event.target);
});

// A page that comes back from the browser's memory may be of somebody who has signed out since.
addEventListener("pageshow", ({ persisted }) => persisted && location.reload());
