// Where a recording is on its way, without reloading: asks now and then, and brings in the page's own part when it moved.
//
// <div id="…" data-watch="/api/takes/?on=2026-03-10" data-state="…">: replaced by the same part of the page as it is now,
// until it no longer says data-watch. What says data-moves-with="…" elsewhere on the page is brought in with it.

const OFTEN_MS = 1500;
const SELDOM_MS = 8000;
const PATIENT_AFTER = 40; // asks
const ANSWER_MS = 15_000; // an ask that hangs on a dead line keeps no other from being asked

async function look(part) {
  const response = await fetch(location.href, { headers: { "X-Part": part.id }, signal: AbortSignal.timeout(ANSWER_MS) });
  if (!response.ok || response.redirected) return part;
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const fresh = page.getElementById(part.id);
  if (!fresh || fresh.dataset.state === part.dataset.state) return part;
  const focused = document.activeElement?.id;
  part.replaceWith(document.adoptNode(fresh));
  for (const one of document.querySelectorAll(`[data-moves-with="${fresh.id}"]`)) {
    const its = page.getElementById(one.id);
    if (its) one.replaceWith(document.adoptNode(its));
  }
  if (focused) document.getElementById(focused)?.focus();
  if (fresh.dataset.said) document.getElementById("said").textContent = fresh.dataset.said;
  dispatchEvent(new CustomEvent("footing:moved", { detail: { part: fresh } }));
  return fresh;
}

export async function watch(id) {
  let part = document.getElementById(id);
  for (let asks = 0; part && "watch" in part.dataset; asks += 1) {
    await new Promise((resolve) => setTimeout(resolve, asks < PATIENT_AFTER ? OFTEN_MS : SELDOM_MS));
    if (!document.hidden) part = await look(part).catch(() => part); // no network: the next ask comes anyway
  }
}

document.querySelectorAll("[data-watch]").forEach((part) => watch(part.id));
