// What this phone keeps in the browser's own database until the studio has it.
//
// A recording is a row {key, profile, exercise, plan, slots, title, mime, about, whole, state, bytes, madeAt}
// and its sound in slices; a file comes whole and begins at ready. Its state goes
//   recording -> kept (finished, may still be played again) -> ready (to be sent) -> sent (sound gone, row stays a while)
// or ends at refused (the studio said no; `trouble` has its words). A note is a small message that must also arrive.

const DAY_MS = 24 * 3600 * 1000;
const SENT_STAYS_MS = 3 * DAY_MS; // so that a page from the cache doesn't ask for a tone twice

const ROOM_BYTES = 1024 * 1024; // the longest tone at the finest sound, three times over
const TRIAL = "trial"; // key of a slice that holds no sound
const WHOLE_HERE = ["ready", "sent", "refused"]; // states of a file that was kept
const MOST_CHANCE_BYTES = 65_536; // that a browser gives at once

let database = null;

function opened() {
  database ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("footing", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("recordings", { keyPath: "key" });
      request.result.createObjectStore("slices", { keyPath: ["key", "place"] });
      request.result.createObjectStore("notes", { keyPath: "id" });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return database;
}

// Whether this browser keeps anything: a private window may refuse.
export async function works() {
  try {
    await opened();
    return true;
  } catch (trouble) {
    if (!(trouble instanceof DOMException)) throw trouble;
    return false;
  }
}

function answer(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function change(stores, work) {
  const db = await opened();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(stores, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    work(transaction);
  });
}

async function read(store, work) {
  const db = await opened();
  return answer(work(db.transaction(store).objectStore(store)));
}

function update(transaction, key, changes) {
  const rows = transaction.objectStore("recordings");
  rows.get(key).onsuccess = ({ target }) => {
    if (target.result) rows.put({ ...target.result, ...changes(target.result) });
  };
}

const slicesOf = (key) => IDBKeyRange.bound([key, 0], [key, Infinity]);

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

export async function mark(key, changes) {
  await change(["recordings"], (t) => update(t, key, () => changes));
}

export async function drop(key) {
  await change(["recordings", "slices"], (t) => {
    t.objectStore("recordings").delete(key);
    t.objectStore("slices").delete(slicesOf(key));
  });
}

// The studio has it: the sound leaves the phone, the row stays as a memory.
export async function sent(key, take) {
  await change(["recordings", "slices"], (t) => {
    t.objectStore("slices").delete(slicesOf(key));
    update(t, key, () => ({ state: "sent", take, trouble: "" }));
  });
}

export async function recordings(profile) {
  const rows = await read("recordings", (store) => store.getAll());
  return rows.filter((row) => row.profile === profile).sort((a, b) => a.madeAt - b.madeAt);
}

export async function waiting(profile) {
  return (await recordings(profile)).filter((row) => row.state !== "sent" && row.state !== "recording");
}

export async function audio(row) {
  const slices = await read("slices", (store) => store.getAll(slicesOf(row.key)));
  return new Blob(slices.map((slice) => slice.sound), { type: row.mime });
}

// A file chosen by hand waits its turn like a recording: all of it is kept at once, or nothing, when the phone is too full.
// What is here already, or was sent, stays as it is.
export async function keepFile(row, file) {
  const sound = await file.arrayBuffer();
  await change(["recordings", "slices"], (t) => {
    const rows = t.objectStore("recordings");
    rows.get(row.key).onsuccess = ({ target }) => {
      if (WHOLE_HERE.includes(target.result?.state)) return;
      rows.put({ state: "ready", bytes: sound.byteLength, madeAt: Date.now(), ...row, mime: file.type });
      t.objectStore("slices").put({ key: row.key, place: 0, sound });
    };
  });
}

// After a crash, a reload, a call: what a recorder left behind. One tone cut short is asked again, so it goes; a long
// run is worth hearing as far as it came. Only the page that holds the playing lock may call this.
export async function adopt(profile) {
  for (const row of await recordings(profile)) {
    if (row.state === "kept") await mark(row.key, { state: "ready" });
    if (row.state === "recording" && row.whole && row.bytes) {
      await mark(row.key, { state: "ready", about: { ...row.about, interrupted: true } });
    } else if (row.state === "recording") await drop(row.key);
    if (row.state === "sent" && row.madeAt < Date.now() - SENT_STAYS_MS) await drop(row.key);
  }
}

export async function leaveNote(note) {
  await change(["notes"], (t) => t.objectStore("notes").put(note));
}

// A form that goes up later, with the token of that time. Left twice, it goes once.
export async function leaveForm(profile, form) {
  const fields = new FormData(form);
  fields.delete("csrfmiddlewaretoken");
  const body = new URLSearchParams(fields).toString();
  const id = `${form.action} ${body}`;
  await leaveNote({ id, profile, url: form.action, type: "application/x-www-form-urlencoded", body });
  return id;
}

export async function notes(profile) {
  return (await read("notes", (store) => store.getAll())).filter((note) => note.profile === profile);
}

export async function dropNote(id) {
  await change(["notes"], (t) => t.objectStore("notes").delete(id));
}
