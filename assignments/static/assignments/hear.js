/* Plays stretches of recordings when an element with data-hear is pressed; pressed again, it stops. One sound at a time.
 *
 *   <a href="…/audio#t=3.2,5.1" data-hear data-from="3.2" data-to="5.1">    seconds; without scripts the link opens it
 *   <button data-hear="…/audio" data-from="3.2" data-to="5.1">
 *   data-hear-list='[["…/audio", 3.2, 5.1], …]'    several, one after another
 *   data-gain-db="2.5" (or "[2.5, 0]" beside a list)    louder or softer, so that two takes can be compared
 *   data-loop    round and round until it is pressed again
 *
 * Fires "footing:hearing", then "footing:heard" (played to its end) or "footing:hushed" (stopped before); all bubble.
 */
const FADE_S = 0.015; // no click at either end
const GAP_S = 0.25; // between the stretches of a list
const KEPT = 4; // decoded recordings; a minute of sound is about 11 MB

const recordings = new Map(); // address -> promise of an AudioBuffer
let context = null;
let turn = null; // {element, off, stop}: what is loading or sounding

function recording(address) {
  const kept = recordings.get(address);
  if (kept) return kept;
  if (recordings.size >= KEPT) recordings.delete(recordings.keys().next().value);
  const decoded = fetch(address, { credentials: "same-origin" }).then(async (answer) => {
    if (!answer.ok) throw new Error(String(answer.status));
    return context.decodeAudioData(await answer.arrayBuffer());
  });
  decoded.catch(() => recordings.delete(address));
  recordings.set(address, decoded);
  return decoded;
}

function stretchesOf(element) {
  const data = element.dataset;
  const gains = [].concat(JSON.parse(data.gainDb ?? "0"));
  const list = data.hearList
    ? JSON.parse(data.hearList)
    : [[data.hear || element.href.split("#")[0], Number(data.from ?? 0), Number(data.to ?? Infinity)]];
  return list.map(([address, from, to], place) => ({ address, from, to, gainDb: gains[place] ?? 0 }));
}

/* Schedules one stretch from `when` on; returns its source and the moment it ends. */
function schedule(buffer, { from, to, gainDb }, when) {
  const first = Math.min(Math.max(0, from), buffer.duration);
  const length = Math.max(0, Math.min(to, buffer.duration) - first);
  const end = when + length;
  const loud = 10 ** (gainDb / 20);
  const source = new AudioBufferSourceNode(context, { buffer });
  const volume = new GainNode(context, { gain: 0 });
  source.connect(volume).connect(context.destination);
  volume.gain.setValueAtTime(0, when);
  volume.gain.linearRampToValueAtTime(loud, when + FADE_S);
  volume.gain.setValueAtTime(loud, Math.max(when + FADE_S, end - FADE_S));
  volume.gain.linearRampToValueAtTime(0, end);
  source.start(when, first, length);
  return { source, end };
}

function playOnce(buffers, stretches, mine) {
  let when = context.currentTime + 0.02;
  const sources = stretches.map((stretch, place) => {
    const { source, end } = schedule(buffers[place], stretch, when);
    when = end + GAP_S;
    return source;
  });
  return new Promise((resolve) => {
    sources.at(-1).onended = resolve;
    mine.stop = () => sources.forEach((source) => source.stop());
  });
}

function fire(element, name) {
  element.dispatchEvent(new CustomEvent(`footing:${name}`, { bubbles: true }));
}

export function hush() {
  if (!turn) return;
  turn.off = true;
  turn.stop?.();
}

export async function hear(element) {
  const again = turn?.element === element;
  hush();
  if (again) return;
  const mine = { element, off: false };
  turn = mine;
  context ??= new AudioContext();
  element.setAttribute("aria-pressed", "true");
  try {
    await context.resume();
    const stretches = stretchesOf(element);
    const buffers = await Promise.all(stretches.map(({ address }) => recording(address)));
    if (!mine.off) fire(element, "hearing");
    do {
      if (!mine.off) await playOnce(buffers, stretches, mine);
    } while (!mine.off && "loop" in element.dataset);
  } catch {
    mine.off = true;
    const region = document.getElementById("said");
    if (region) region.textContent = document.body.dataset.noSound ?? "";
  }
  element.setAttribute("aria-pressed", "false");
  if (turn === mine) turn = null;
  fire(element, mine.off ? "hushed" : "heard");
}

document.addEventListener("click", (event) => {
  const element = event.target.closest("[data-hear], [data-hear-list]");
  if (!element) return;
  event.preventDefault();
  hear(element);
});
