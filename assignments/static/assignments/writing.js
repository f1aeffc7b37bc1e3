// How sound comes into what this phone keeps: second by second, or a file piece by piece.

import { change, drop, mark, recordings, slicesOf, update } from "./store.js";

const ROOM_BYTES = 1024 * 1024; // the longest tone at the finest sound, three times over
const TRIAL = "trial"; // key of a slice that holds no sound
const MOST_CHANCE_BYTES = 65_536; // that a browser gives at once
const PIECE_BYTES = 512 * 1024; // of a file: no more of it is in memory
const WHOLE_HERE = ["ready", "sent", "refused"]; // states of a file that was kept

// Whether the phone can take one more tone: found out by writing one, since what browsers say of their room is a guess.
export async function hasRoom() {
  const sound = new Uint8Array(ROOM_BYTES); // by chance, so that it can't be packed into less
  for (let at = 0; at < ROOM_BYTES; at += MOST_CHANCE_BYTES) {
    crypto.getRandomValues(sound.subarray(at, at + MOST_CHANCE_BYTES));
  }
  try {
    await change(["slices"], (t) => t.objectStore("slices").put({ key: TRIAL, place: 0, sound }));
  } catch (trouble) {
    if (trouble.name !== "QuotaExceededError") throw trouble;
    return false;
  }
  await change(["slices"], (t) => t.objectStore("slices").delete(slicesOf(TRIAL)));
  return true;
}

export async function begin(row) {
  await change(["recordings"], (t) =>
    t.objectStore("recordings").add({ state: "recording", bytes: 0, madeAt: Date.now(), ...row }),
  );
}

export async function addSlice(key, place, blob) {
  const sound = await blob.arrayBuffer();
  await change(["recordings", "slices"], (t) => {
    t.objectStore("slices").put({ key, place, sound });
    update(t, key, (row) => ({ bytes: row.bytes + sound.byteLength }));
  });
}

// A file chosen by hand waits its turn like a recording. It begins to wait when all of it is here; when the phone is too full,
// nothing of it stays. What is here already, or was sent, stays as it is.
export async function keepFile(row, file) {
  const before = (await recordings(row.profile)).find((other) => other.key === row.key);
  if (WHOLE_HERE.includes(before?.state)) return;
  const coming = { state: "coming", bytes: 0, madeAt: Date.now(), ...row, mime: file.type };
  try {
    await change(["recordings"], (t) => t.objectStore("recordings").put(coming));
    for (let place = 0; place * PIECE_BYTES < file.size; place += 1) {
      await addSlice(row.key, place, file.slice(place * PIECE_BYTES, (place + 1) * PIECE_BYTES));
    }
    await mark(row.key, { state: "ready" });
  } catch (trouble) {
    await drop(row.key);
    throw trouble;
  }
}
