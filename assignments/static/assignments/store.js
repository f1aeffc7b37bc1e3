// What this phone keeps in the browser's own database until the studio has it.
//
// A recording is a row {key, profile, exercise, plan, slots, title, mime, about, whole, state, bytes, madeAt}
// and its sound in slices, at the places 0, 1, 2 … (writing.js puts them in). Its state goes
//   recording -> kept (finished, may still be played again) -> ready (to be sent) -> sent (sound gone, row stays a while)
// or ends at refused (the studio said no; `trouble` has its words). A file goes from coming (not all of it is here) to ready. A note is a small message that must also arrive.

const DAY_MS = 24 * 3600 * 1000;
const SENT_STAYS_MS = 3 * DAY_MS; // so that a page from the cache doesn't ask for a tone twice
const NOT_WAITING = ["coming", "recording", "sent"];

let database = null;

function opened() {
  database ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("footing", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("recordings", { keyPath: "key" });
      request.result.createObjectStore("slices", { keyPath: ["key", "place"] });
      request.result.createObjectStore("notes", { keyPath: "id" });
    };
    request.onsuccess = () => {
      request.result.onclose = forget;
      resolve(request.result);
    };
    request.onerror = () => {
      forget();
      reject(request.error);
    };
  });
  return database;
}

// A browser may shut it under a page that was out of sight: it is opened anew.
function forget() {
  database = null;
}

async function begun(...how) {
  try {
    return (await opened()).transaction(...how);
  } catch (trouble) {
    if (trouble.name !== "InvalidStateError") throw trouble;
    forget();
    return (await opened()).transaction(...how);
  }
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

export async function change(stores, work) {
  const transaction = await begun(stores, "readwrite", { durability: "strict" });
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    work(transaction);
  });
}

async function read(store, work) {
  const transaction = await begun(store);
  return answer(work(transaction.objectStore(store)));
}

export function update(transaction, key, changes) {
  const rows = transaction.objectStore("recordings");
  rows.get(key).onsuccess = ({ target }) => {
    if (target.result) rows.put({ ...target.result, ...changes(target.result) });
  };
}

export const slicesOf = (key) => IDBKeyRange.bound([key, 0], [key, Infinity]);

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
  return (await recordings(profile)).filter((row) => !NOT_WAITING.includes(row.state));
}

// One slice of the sound after the other: a phone's memory holds no long recording.
export async function* slices(key) {
  for (let place = 0; ; place += 1) {
    const slice = await read("slices", (all) => all.get([key, place]));
    if (!slice) return;
    yield slice.sound;
  }
}

export async function audio(row) {
  const parts = [];
  for await (const sound of slices(row.key)) parts.push(new Blob([sound])); // which the browser may lay on its disk
  return new Blob(parts, { type: row.mime });
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
    if (row.state === "coming" && row.madeAt < Date.now() - DAY_MS) await drop(row.key);
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
