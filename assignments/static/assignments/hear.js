/* Plays one stretch of a recording when an element with data-hear is pressed; pressed again, it stops.
 *
 *   <a href="…/audio#t=3.2,5.1" data-hear data-from="3.2" data-to="5.1">      seconds of the recording
 *   data-gain-db="2.5"        louder or softer by so much, so that two takes can be compared
 *   data-heard="…"            address that is told, by POST, once the stretch was played to its end
 *
 * The element fires "hearing", then "heard" (played to its end) or "hushed" (stopped before); all bubble.
 */
const FADE_S = 0.015; // no click at either end
const KEPT = 4; // decoded recordings; a minute of sound is about 11 MB

const recordings = new Map(); // address -> promise of an AudioBuffer
let context = null;
let playing = null; // {element, stop}

function recording(address) {
  if (!recordings.has(address)) {
    if (recordings.size >= KEPT) recordings.delete(recordings.keys().next().value);
    const decoded = fetch(address, { credentials: "same-origin" }).then(async (answer) => {
      if (!answer.ok) throw new Error(String(answer.status));
      return context.decodeAudioData(await answer.arrayBuffer());
    });
    decoded.catch(() => recordings.delete(address));
    recordings.set(address, decoded);
  }
  return recordings.get(address);
}

function seconds(element, name, otherwise) {
  const value = Number.parseFloat(element.dataset[name]);
  return Number.isFinite(value) ? value : otherwise;
}

function fire(element, name) {
  element.dispatchEvent(new CustomEvent(name, { bubbles: true }));
}

function say(element, words) {
  const region = document.getElementById("said");
  if (region && words) region.textContent = words;
}

async function tellHeard(element) {
  const token = document.querySelector("[name=csrfmiddlewaretoken]");
  const answer = await fetch(element.dataset.heard, {
    method: "POST",
    credentials: "same-origin",
    headers: { "X-CSRFToken": token ? token.value : "", "X-Requested-With": "fetch" },
  });
  if (!answer.ok) throw new Error(String(answer.status));
}

async function finished(element) {
  try {
    if (element.dataset.heard) await tellHeard(element);
    fire(element, "heard");
  } catch {
    fire(element, "hushed");
    say(element, document.body.dataset.notNoted);
  }
}

function playBuffer(buffer, element) {
  const from = Math.min(Math.max(0, seconds(element, "from", 0)), buffer.duration);
  const to = Math.min(seconds(element, "to", buffer.duration), buffer.duration);
  const source = context.createBufferSource();
  const volume = context.createGain();
  const loud = 10 ** (seconds(element, "gainDb", 0) / 20);
  const now = context.currentTime;
  source.buffer = buffer;
  source.connect(volume).connect(context.destination);
  volume.gain.setValueAtTime(0, now);
  volume.gain.linearRampToValueAtTime(loud, now + FADE_S);
  volume.gain.setValueAtTime(loud, Math.max(now + FADE_S, now + to - from - FADE_S));
  volume.gain.linearRampToValueAtTime(0, now + to - from);
  source.start(now, from, to - from);
  return new Promise((resolve) => {
    let cut = false;
    source.onended = () => resolve(!cut);
    playing = {
      element,
      stop() {
        cut = true;
        source.stop();
      },
    };
  });
}

export function stop() {
  if (playing) playing.stop();
}

export async function hear(element) {
  const wasThis = playing && playing.element === element;
  stop();
  if (wasThis) return;
  const turn = { element, stop: () => { turn.off = true; } };
  playing = turn; // while it loads, a second press calls it off
  context = context || new AudioContext();
  await context.resume();
  element.setAttribute("aria-busy", "true");
  let toTheEnd = false;
  try {
    const buffer = await recording(element.href ? element.href.split("#")[0] : element.dataset.hear);
    if (turn.off) return;
    element.setAttribute("aria-pressed", "true");
    fire(element, "hearing");
    toTheEnd = await playBuffer(buffer, element);
  } catch {
    say(element, document.body.dataset.noSound);
  } finally {
    element.removeAttribute("aria-busy");
    element.removeAttribute("aria-pressed");
    if (playing && playing.element === element) playing = null;
    if (toTheEnd) finished(element);
    else fire(element, "hushed");
  }
}

document.addEventListener("click", (event) => {
  const element = event.target.closest("[data-hear]");
  if (!element) return;
  event.preventDefault();
  hear(element);
});
