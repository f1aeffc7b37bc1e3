// Set up, as the page shows it: each step is heard and the next one begins by itself.

import { spoken, tell, to } from "./phases.js";
import { STEPS, reader, summary, troubleAfter, volumeHelp } from "./sound_check.js";

const EVERY_MS = 50;
const MARKS = { ground: "unplayed", trench: "miss", laid: "hit" }; // to come, now, heard
const ONCE_ONLY = ["not_louder", "not_softer"]; // told once; then the phone's volume help is the likelier reason

function mark(step, kind) {
  const row = document.querySelector(`[data-step="${step}"]`);
  row.dataset.kind = kind;
  row.querySelector("use").setAttribute("href", `#mark-${MARKS[kind]}`);
  row.querySelector(".mark").setAttribute("class", `mark ${MARKS[kind]}${kind === "trench" ? " today" : ""}`);
  for (const words of row.querySelectorAll("[data-kind]")) words.hidden = words.dataset.kind !== kind;
  if (kind === "trench") tell(spoken(row));
}

function heardOut(levels, one, isWanted) {
  const began = performance.now();
  return new Promise((resolve) => {
    const timer = setInterval(() => {
      const { db, peak } = levels.now();
      const read = isWanted() ? one.hear((performance.now() - began) / 1000, db, peak) : null;
      if (!read && isWanted()) return;
      clearInterval(timer);
      resolve(read);
    }, EVERY_MS);
  });
}

// Resolves with the day's check, or with null after having shown what is in the way, or when it is no longer wanted.
// inTheQuiet(): what else wants to listen to the room while nobody plays.
export async function setUp(levels, microphone, isWanted, inTheQuiet) {
  const read = {};
  const told = new Set();
  to("checking");
  STEPS.forEach((step) => mark(step, "ground"));
  for (let place = 0; place < STEPS.length; ) {
    const step = STEPS[place];
    mark(step, "trench");
    read[step] = await heardOut(levels, reader(step, read.quiet?.db), isWanted);
    if (!isWanted()) return null;
    const trouble = troubleAfter(step, read);
    if (trouble && ONCE_ONLY.includes(trouble) && !told.has(trouble)) {
      told.add(trouble);
      say(trouble);
      continue;
    }
    if (trouble && !ONCE_ONLY.includes(trouble)) {
      to(trouble);
      return null;
    }
    if (step === "quiet") await inTheQuiet();
    if (!isWanted()) return null;
    mark(step, "laid");
    place += 1;
  }
  say(`help_${volumeHelp(read, microphone.settings)}`);
  return read.loudest.db > read.softest.db ? summary(read, microphone.settings) : null;
}

function say(name) {
  for (const words of document.querySelectorAll("[data-word]")) words.hidden = words.dataset.word !== name;
  const words = document.querySelector(`[data-word="${name}"]`);
  if (words) tell(words.textContent);
}
