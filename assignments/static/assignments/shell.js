// On every page of a student: sends what waits on this phone, says so in the ground, and keeps Today for days without network.

import { CHANGED, Sender } from "./sender.js";
import * as store from "./store.js";

export const profile = document.body.dataset.profile;
export const sender = new Sender(profile);

export function size(bytes) {
  const megabytes = bytes / 1_000_000;
  return `${megabytes.toLocaleString(document.documentElement.lang, { maximumFractionDigits: 1, minimumFractionDigits: 1 })} MB`;
}

const place = document.getElementById("waits");
const whenNothingWaits = place?.textContent;

async function sayWhatWaits() {
  const rows = await store.waiting(profile);
  const bytes = rows.reduce((sum, row) => sum + row.bytes, 0);
  const fill = (words) => words.replace("{n}", rows.length).replace("{size}", size(bytes));
  const { waits, offline, held, signedOut, refused } = place.dataset;
  if (rows.length && sender.state === "signed_out") place.textContent = fill(signedOut);
  else if (rows.length && sender.state === "held") place.textContent = fill(held);
  else if (rows.length && rows.every((row) => row.state === "refused")) place.textContent = fill(refused);
  else if (!navigator.onLine) place.textContent = rows.length ? `${fill(waits)}. ${offline}` : offline;
  else place.textContent = rows.length ? fill(waits) : whenNothingWaits;
}

async function keepForLater() {
  const registration = await navigator.serviceWorker.register("/service-worker.js");
  await navigator.serviceWorker.ready;
  registration.active?.postMessage({ keep: ["/today/", "/today/set-up/", "/today/play/", "/mine/"] });
}

if (window.indexedDB && navigator.locks) {
  if (place) {
    addEventListener(CHANGED, sayWhatWaits);
    addEventListener("online", sayWhatWaits);
    addEventListener("offline", sayWhatWaits);
    sayWhatWaits();
  }
  sender.start();
}
if ("serviceWorker" in navigator) keepForLater();
