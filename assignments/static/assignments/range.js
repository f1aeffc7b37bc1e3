// The range under a thumb or the arrow keys: a row that names the note, shows its tones large enough for a thumb, says how
// the one in hand went, and leads to its sound.

const table = document.querySelector("table.range");
const reading = document.getElementById("reading");
const rows = [...table.tBodies[0].rows];
const heads = [...table.tHead.rows[1].cells];
const shapes = [...table.tHead.querySelectorAll("svg.shape")];
const shaped = [...table.tHead.querySelectorAll("th.word")];
let here = null;

const words = (cell) => (cell.querySelector(".unseen") ?? cell).textContent.trim();
const copy = (cell) => [...(cell.querySelector("a") ?? cell).cloneNode(true).childNodes];

function read(cell) {
  here?.closest("tr").classList.remove("here");
  here?.setAttribute("tabindex", "-1");
  here = cell;
  const row = cell.closest("tr");
  row.classList.add("here");
  cell.setAttribute("tabindex", "0");
  const [name, said, link, tones] = reading.children;
  name.replaceChildren(...copy(row.cells[0]));
  said.replaceChildren(...copy(heads[cell.cellIndex]), `: ${words(cell)}`);
  tones.replaceChildren(...toneCells(row).map(large));
  link.hidden = !cell.dataset.href;
  link.href = cell.dataset.href ?? "";
  link.textContent = document.getElementById("range").dataset.lookWord;
  reading.hidden = false;
}

// A cell of the table as a thumb finds it. Keys and readers have the table itself.
function large(cell) {
  const head = heads[cell.cellIndex];
  const sign = shapes[shaped.indexOf(head)]?.cloneNode(true);
  const one = document.createElement("span");
  one.append(...(sign ? [sign] : copy(head)), cell.querySelector(".mark").cloneNode(true));
  one.classList.toggle("here", cell === here);
  one.addEventListener("click", () => read(cell));
  return one;
}

function toneCells(row) {
  return [...row.cells].filter((cell) => cell.dataset.tone);
}

function under(x, y) {
  const cell = document.elementFromPoint(x, y)?.closest("td[data-tone]");
  return cell && table.contains(cell) ? cell : null;
}

function move(event) {
  const cell = under(event.clientX, event.clientY);
  if (cell) read(cell);
}

table.addEventListener("pointerdown", (event) => {
  move(event);
  table.addEventListener("pointermove", move);
});
addEventListener("pointerup", () => table.removeEventListener("pointermove", move));
addEventListener("pointercancel", () => table.removeEventListener("pointermove", move));

const STEPS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };

table.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && here?.dataset.href) location.assign(here.dataset.href);
  const step = STEPS[event.key];
  if (!step || !here) return;
  event.preventDefault();
  const row = rows[rows.indexOf(here.closest("tr")) + step[0]];
  const place = toneCells(here.closest("tr")).indexOf(here) + step[1];
  const cell = row && toneCells(row)[place];
  if (!cell) return;
  read(cell);
  cell.focus();
});

for (const row of rows) for (const cell of toneCells(row)) cell.setAttribute("tabindex", "-1");
toneCells(rows.at(-1))[0]?.setAttribute("tabindex", "0");
table.addEventListener("focusin", (event) => event.target.dataset.tone && read(event.target));
document.getElementById("hear-a-note")?.addEventListener("click", (event) => {
  if (!here?.dataset.href) return;
  event.preventDefault();
  location.assign(here.dataset.href);
});
