// What this phone holds and how it sends: choices that belong to the phone, and recordings that are still on it alone.

import { CHANGED } from "./sender.js";
import { locale, profile, sender, size } from "./shell.js";
import * as store from "./store.js";

const list = document.getElementById("waiting");
const pattern = document.getElementById("waiting-row");
const sendNow = document.querySelector("[data-do=send]");

document.querySelectorAll("[data-needs-scripts]").forEach((part) => (part.hidden = false));
for (const tick of document.querySelectorAll("[data-keeps]")) {
  tick.checked = localStorage.getItem(tick.dataset.keeps) === "1";
  tick.addEventListener("change", () => localStorage.setItem(tick.dataset.keeps, tick.checked ? "1" : "0"));
}

document.querySelector("[data-keeps=footing-vibrate]").closest("label").hidden = !navigator.vibrate;

function rowOf(recording) {
  const row = pattern.content.cloneNode(true);
  const made = new Date(recording.madeAt).toLocaleString(locale, { dateStyle: "medium", timeStyle: "short" });
  row.querySelector("h3").textContent = recording.title;
  row.querySelector("p").textContent = [made, size(recording.bytes), recording.trouble].filter(Boolean).join(" · ");
  row.querySelector("[data-do=save]").addEventListener("click", () => save(recording));
  const retry = row.querySelector("[data-do=retry]");
  retry.hidden = recording.state !== "refused";
  retry.addEventListener("click", async () => {
    await store.mark(recording.key, { state: "ready", trouble: "" });
    sender.nudge();
  });
  return row;
}

async function save(recording) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await store.audio(recording));
  link.download = `${recording.title.replace(/\s+/g, "-")}.${recording.mime.includes("mp4") ? "m4a" : "webm"}`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

async function show() {
  const rows = await store.waiting(profile);
  list.replaceChildren(...rows.map(rowOf));
  document.getElementById("nothing-waits").hidden = rows.length > 0;
  document.getElementById("some-wait").hidden = sendNow.hidden = rows.length === 0;
  const stays = await navigator.storage?.persisted?.();
  document.getElementById("may-be-forgotten").hidden = stays || rows.length === 0;
}

sendNow.addEventListener("click", () => sender.nudge({ anyLine: true }));
addEventListener(CHANGED, show);
show();
