/* Plays stretches of recordings when an element with data-hear is pressed; pressed again, it stops. One sound at a time.
 *
 *   <a href="…/audio#t=3.2,5.1" data-hear data-from="3.2" data-to="5.1">    seconds; without scripts the link opens it
 *   <button data-hear="…/audio" data-from="3.2" data-to="5.1">
 *   data-hear-list='[["…/audio", 3.2, 5.1], …]'    several, one after another
 *   data-gain-db="2.5" (or "[2.5, 0]" beside a list)    louder or softer, so that two takes can be compared
 *   data-hear-together='[["…/audio", 3.2, 5.1], …]'    several at once, all beginning in the same instant
 *   data-loop    round and round until it is pressed again
 *
 * Fires "footing:hearing", then "footing:heard" (played to its end) or "footing:hushed" (stopped before); all bubble.
 */
const FADE_S = 0.015; // no click at either end
const GAP_S = 0.25; // between the stretches of a list
const KEPT = 8; // decoded recordings
const AHEAD_S = 0.05; // so that all of several are ready when they begin
const LARGEST_DECODED = 2_500_000; // bytes; longer recordings would fill a phone's memory and are played as they come
const LOOK_EVERY_MS = 20;
const WAKES_MS = 1000; // an audio context that a call has taken doesn't come back at all

const recordings = new Map(); // address and most bytes -> promise of an AudioBuffer, or of null for one that is too large
let context = null;
let turn = null; // {element, off, stop}: what is loading or sounding

async function fetched(address, mostBytes) {
  const leave = new AbortController();
  const answer = await fetch(address, { credentials: "same-origin", signal: leave.signal });
  if (!answer.ok) throw new Error(String(answer.status));
  if (Number(answer.headers.get("Content-Length")) > mostBytes) {
    leave.abort();
    return null;
  }
  return context.decodeAudioData(await answer.arrayBuffer());
}

function recording(address, mostBytes) {
  const key = `${address} ${mostBytes}`;
  const kept = recordings.get(key);
  if (kept) return kept;
  if (recordings.size >= KEPT) recordings.delete(recordings.keys().next().value);
  const promise = fetched(address, mostBytes);
  promise.catch(() => recordings.delete(key));
  recordings.set(key, promise);
  return promise;
}

function stretchesOf(element) {
  const data = element.dataset;
  const gains = [].concat(JSON.parse(data.gainDb ?? "0"));
  const several = data.hearList ?? data.hearTogether;
  const list = several
    ? JSON.parse(several)
    : [[data.hear || element.href.split("#")[0], Number(data.from ?? 0), Number(data.to ?? Infinity)]];
  return list.map(([address, from, to], place) => ({ address, from, to, gainDb: gains[place] ?? 0 }));
}

function volume(gainDb) {
  const node = new GainNode(context, { gain: 0 });
  node.connect(context.destination);
  node.gain.setTargetAtTime(10 ** (gainDb / 20), context.currentTime, FADE_S / 3);
  return node;
}

/* A decoded recording: exact to the sample. `at`: when to begin, on the context's clock. */
function playBuffer(buffer, { from, to, gainDb }, mine, at = context.currentTime) {
  const first = Math.min(Math.max(0, from), buffer.duration);
  const length = Math.max(0, Math.min(to, buffer.duration) - first);
  const source = new AudioBufferSourceNode(context, { buffer });
  const node = volume(gainDb);
  source.connect(node);
  node.gain.setTargetAtTime(0, at + Math.max(0, length - FADE_S), FADE_S / 3);
  source.start(at, first, length);
  return new Promise((resolve) => {
    source.onended = resolve;
    mine.stop = () => source.stop();
  });
}

/* A long recording: the browser fetches the part that is wanted. */
function playStream({ address, from, to, gainDb }, mine) {
  const sound = new Audio(address);
  new MediaElementAudioSourceNode(context, { mediaElement: sound }).connect(volume(gainDb));
  return new Promise((resolve, reject) => {
    const watch = setInterval(() => sound.currentTime >= to && end(), LOOK_EVERY_MS);
    const end = () => {
      clearInterval(watch);
      sound.pause();
      resolve();
    };
    mine.stop = end;
    sound.onended = end;
    sound.onerror = () => {
      clearInterval(watch);
      reject(new Error("no sound"));
    };
    sound.onloadedmetadata = () => { sound.currentTime = Math.max(0, from); };
    sound.onseeked = () => sound.play().catch(reject);
    sound.load();
  });
}

/* Each as it is, at the same time; one stop ends them all. Only what is decoded begins in the same instant. */
async function playAtOnce(buffers, stretches, mine) {
  const each = stretches.map(() => ({}));
  mine.stop = () => each.forEach((one) => one.stop());
  const at = context.currentTime + AHEAD_S;
  await Promise.all(
    stretches.map((stretch, place) => playBuffer(buffers[place], stretch, each[place], at)),
  );
}

async function playOnce(stretches, mine) {
  const isTogether = Boolean(mine.element.dataset.hearTogether);
  const mostBytes = isTogether ? Infinity : LARGEST_DECODED;
  const buffers = await Promise.all(stretches.map(({ address }) => recording(address, mostBytes)));
  if (!mine.off && !mine.heard) fire(mine.element, "hearing");
  mine.heard = true;
  if (isTogether && !mine.off) {
    await playAtOnce(buffers, stretches, mine);
    return;
  }
  for (const [place, stretch] of stretches.entries()) {
    if (place > 0) await new Promise((resolve) => { setTimeout(resolve, GAP_S * 1000); });
    if (mine.off) return;
    await (buffers[place] ? playBuffer(buffers[place], stretch, mine) : playStream(stretch, mine));
  }
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
    await Promise.race([context.resume(), new Promise((resolve) => { setTimeout(resolve, WAKES_MS); })]);
    if (context.state !== "running") throw new Error("no sound");
    const stretches = stretchesOf(element);
    do {
      await playOnce(stretches, mine);
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
  const element = event.target.closest("[data-hear], [data-hear-list], [data-hear-together]");
  if (!element) return;
  event.preventDefault();
  hear(element);
});
