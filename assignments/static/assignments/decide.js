/* Listen and decide: marks what was heard to its end, and opens Yes when all of it was. Keys work while focus is here. */
import { hear } from "./hear.js";

const list = document.querySelector("[data-to-hear]");
const yes = document.getElementById("yes");
const left = document.getElementById("left");

function state(item, name) {
  const label = item.querySelector("[data-state]");
  label.textContent = label.dataset[name];
}

function count() {
  const waiting = list.querySelectorAll("li:has([data-number]):not([data-was-heard])").length;
  if (!left) return;
  left.textContent = waiting === 0 ? left.dataset.none : waiting === 1 ? left.dataset.one : left.dataset.many.replace("NUMBER", waiting);
  if (waiting > 0 || list.querySelectorAll("[data-was-heard]").length < Number(list.dataset.fewest)) return;
  yes.removeAttribute("aria-disabled");
  yes.classList.replace("waits", "brass");
}

async function note(item) {
  const form = item.querySelector("form");
  const answer = await fetch(form.action, {
    method: "POST",
    body: new FormData(form),
    credentials: "same-origin",
    headers: { "X-Requested-With": "fetch" },
  });
  if (!answer.ok) throw new Error(String(answer.status));
  item.dataset.wasHeard = "";
}

/* Of a tone four weeks ago nothing is noted: it is there to compare. */
function isOne(target) {
  return target.matches("[data-number]");
}

list.addEventListener("footing:hearing", ({ target }) => {
  if (!isOne(target)) return;
  const item = target.closest("li");
  item.classList.add("playing");
  item.dataset.before = item.querySelector("[data-state]").textContent;
  state(item, "playing");
  swapLabel(target);
});

list.addEventListener("footing:hushed", ({ target }) => {
  if (!isOne(target)) return;
  const item = target.closest("li");
  item.classList.remove("playing");
  if (item.dataset.before) item.querySelector("[data-state]").textContent = item.dataset.before;
  resetLabel(target);
});

list.addEventListener("footing:heard", async ({ target }) => {
  if (!isOne(target)) return;
  const item = target.closest("li");
  item.classList.remove("playing");
  resetLabel(target);
  try {
    await note(item);
    state(item, "heard");
    count();
  } catch {
    item.querySelector("[data-state]").textContent = item.dataset.before; // not written down: hear it again
  }
});

function swapLabel(button) {
  const label = button.querySelector("[data-label]");
  label.dataset.hear ??= label.textContent;
  label.textContent = label.dataset.stop;
}

function resetLabel(button) {
  const label = button.querySelector("[data-label]");
  if (label.dataset.hear) label.textContent = label.dataset.hear;
}

document.getElementById("answer").addEventListener("submit", (event) => {
  if (event.submitter?.getAttribute("aria-disabled") !== "true") return;
  event.preventDefault();
  document.getElementById("said").textContent = left.textContent;
});

document.getElementById("main").addEventListener("keydown", (event) => {
  if (event.target.matches("input, textarea, select") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.id === "main") return; // focus is not among the tones yet
  const button = list.querySelector(`[data-number="${CSS.escape(event.key)}"]`);
  const answer = { y: yes, n: document.getElementById("not-yet") }[event.key.toLowerCase()];
  if (button) hear(button);
  else if (answer) answer.click();
  else return;
  event.preventDefault();
});
