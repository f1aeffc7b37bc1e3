// A page that is always in one phase: <p data-when="paused lost"> shows in these phases, <button data-do="pause"> acts.

const said = document.getElementById("said");

// Shows what belongs to `phase`, tells a screen reader once, and keeps the keyboard on something that is there.
export function to(phase) {
  if (document.body.dataset.phase === phase) return;
  document.body.dataset.phase = phase;
  const focused = document.activeElement;
  for (const part of document.querySelectorAll("[data-when]")) {
    part.hidden = !part.dataset.when.split(" ").includes(phase);
  }
  const words = document.querySelector(`[data-when~="${phase}"][data-tell]`);
  if (words) tell(spoken(words));
  if (focused && focused !== document.body && !shows(focused)) {
    [...document.querySelectorAll(".act")].find(shows)?.focus({ preventScroll: true });
  }
  scrollTo(0, 0);
}

function shows(element) {
  return element.getClientRects().length > 0;
}

// What a screen reader would say of `part`: without what is hidden from eyes or ears.
export function spoken(part) {
  const copy = part.cloneNode(true);
  copy.querySelectorAll("[hidden], [aria-hidden=true]").forEach((one) => one.remove());
  return copy.textContent;
}

export function tell(words) {
  said.textContent = words.trim().replace(/\s+/g, " ");
}

// actions: {name: function(button)}
export function listen(actions) {
  document.addEventListener("click", ({ target }) => {
    const button = target.closest("[data-do]");
    if (button) actions[button.dataset.do](button);
  });
}
