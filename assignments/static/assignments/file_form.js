// A chosen file goes the way of a recording: kept on this phone, sent in parts that can go on later, once.

import { CHANGED } from "./sender.js";
import { profile, sender } from "./shell.js";
import * as store from "./store.js";

const form = document.getElementById("send-file");

function chosen() {
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  return files.length === 1 && files[0].size ? files[0] : null;
}

// Sent: to its page. Refused: the same words as without scripts come from the studio, so the form goes the plain way.
async function follow(key) {
  const row = (await store.recordings(profile)).find((one) => one.key === key);
  if (row?.state === "sent") location.assign(`/takes/${row.take}/`);
  if (row?.state === "refused") {
    await store.drop(key);
    form.submit();
  }
  document.getElementById("waits-here").hidden = row?.state !== "ready" || sender.state === "sending";
}

async function keep(file, fields) {
  const key = fields.get("client_key");
  const slots = fields.getAll("slots").map(Number);
  const { exercise, plan, title } = form.dataset;
  await store.keepFile({ key, profile, exercise, plan: plan || null, slots, title, about: { file: true, ...(fields.get("moved") && { spot: "moved" }) } }, file);
  addEventListener(CHANGED, () => follow(key));
  sender.nudge();
}

form.addEventListener("submit", (event) => {
  const fields = new FormData(form);
  const file = chosen();
  if (!file || !fields.getAll("slots").length || !window.indexedDB || !navigator.locks) return; // the studio says what is missing
  event.preventDefault();
  keep(file, fields).catch((trouble) => {
    if (trouble.name !== "QuotaExceededError" && trouble.name !== "ConstraintError") throw trouble;
    form.submit(); // no room on this phone, or sent before: the plain way
  });
});
