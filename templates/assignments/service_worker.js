{% load static %}// Keeps what Today needs, so that it opens and records without network. Network first, the kept copy as fallback.
// Recordings and the API are never kept. Pages with people's data go when somebody signs out, is signed out, or hands on.
// Takes in what the phone's own recorder shares, with or without network. Shows the note of a reminder.

importScripts("{% static 'assignments/inbox.js' %}");

const SHELL = "shell-{{ version }}";
const PAGES = "pages";
const LEAVING = "leaving"; // a sign-out that found no network
const NOTES = "notes"; // the pages on which notes were asked for on this device (device.js puts them in)
const ALWAYS = [{% for name in names %}"{% static name %}", {% endfor %}"{% url 'offline' %}", "{% url 'offline_turn' %}", "{% url 'offline_form' %}"];
const KEPT_PAGES = /^\/(today\/|today\/set-up\/|today\/play\/|today\/files\/|hurts\/|mine\/|range\/|evenness\/|high-notes\/|lesson\/|exercises\/[0-9a-f-]+\/)$/;
const NEVER = /^\/(api|takes|support|studio)\//;
const [SIGN_OUT, SHARED, TODAY] = ["{% url 'sign-out' %}", "{% url 'shared_files' %}", "{% url 'today' %}"];
const [SIGN_IN, TURN] = ["{% url 'sign-in' %}", "{% url 'whose_turn' %}"];
const PATIENCE_MS = 4000;
const KEPT_AT = "X-Kept-At";

let handedOn = 0; // so many times while this worker lives: what was asked for before is kept no more

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((cache) => cache.addAll(ALWAYS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("shell-") && name !== SHELL;
  const clear = caches.keys().then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))));
  event.waitUntil(clear.then(() => self.clients.claim()));
});

function isDoor(pathname) {
  return pathname === SIGN_IN || pathname.startsWith(TURN);
}

async function clearPages() {
  handedOn += 1;
  await caches.delete(PAGES);
}

async function letGo(request) {
  await (await caches.open(PAGES)).delete(request, { ignoreSearch: true, ignoreVary: true });
}

function dated(response) {
  const headers = new Headers(response.headers);
  headers.set(KEPT_AT, new Date().toISOString());
  return new Response(response.body, { status: response.status, headers });
}

async function fromNetwork(request, cacheName) {
  const before = handedOn;
  const response = await fetch(request);
  if (response.redirected && isDoor(new URL(response.url).pathname)) await clearPages();
  else if (response.ok && !response.redirected && cacheName && before === handedOn) {
    const copy = response.clone();
    const cache = await caches.open(cacheName);
    await cache.put(request, cacheName === PAGES ? dated(copy) : copy);
  } else if (response.status === 403) await letGo(request); // shut by now: nobody records on a copy of when it was open
  return response;
}

// A kept page says that it is one, and of when.
async function asKept(response) {
  const at = response.headers.get(KEPT_AT);
  if (!at) return response;
  const page = (await response.text()).replace('data-kept-at=""', `data-kept-at="${at}"`);
  const headers = new Headers(response.headers);
  headers.delete("Content-Length");
  return new Response(page, { headers });
}

function patience() {
  return new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
}

async function networkFirst(request, cacheName) {
  const network = fromNetwork(request, cacheName);
  network.catch(() => {}); // its failure is answered below
  const kept = await caches.match(request, { ignoreSearch: request.mode === "navigate", ignoreVary: true });
  try {
    const response = await (kept ? Promise.race([network, patience()]) : network);
    return response && (response.status < 500 || !kept) ? response : asKept(kept);
  } catch (trouble) {
    if (kept) return asKept(kept);
    if (request.mode === "navigate") return caches.match("{% url 'offline' %}");
    throw trouble;
  }
}

// --- a device that is handed on ------------------------------------------------

// A PIN is checked by the studio alone. Without network the pages of whoever played last stay with them.
async function handOn(request) {
  try {
    const response = await fetch(request);
    await clearPages();
    return response;
  } catch {
    return caches.match("{% url 'offline_turn' %}");
  }
}

// The studio forgets the device too; here it is forgotten without network as well.
async function endNotes() {
  const known = await self.registration.pushManager?.getSubscription();
  await known?.unsubscribe();
  await caches.delete(NOTES);
}

// Who signs out without network, or while the studio is down, leaves nothing to see; the studio hears of it before anybody
// opens a page again.
async function signOut(request) {
  await clearPages();
  endNotes();
  const told = request.clone();
  const answer = await fetch(request).catch(() => null);
  if (isHeard(answer)) return answer;
  const leaving = await caches.open(LEAVING);
  await leaving.put(SIGN_OUT, new Response(await told.text()));
  return caches.match("{% url 'offline_turn' %}");
}

// Whether the studio itself has answered.
function isHeard(answer) {
  return answer !== null && answer.status < 500;
}

// Whether nobody is on their way out any more.
async function hasLeft() {
  const leaving = await caches.match(SIGN_OUT, { cacheName: LEAVING });
  if (!leaving) return true;
  const headers = { "Content-Type": "application/x-www-form-urlencoded" };
  const told = { method: "POST", headers, body: await leaving.text(), redirect: "manual" };
  const answer = await fetch(SIGN_OUT, told).catch(() => null);
  return isHeard(answer) && caches.delete(LEAVING);
}

// --- a form that got no answer --------------------------------------------------

// The studio may have it all the same. The way back is the page that the form stands on, a teacher's or a student's.
async function withoutAnswer({ referrer }) {
  const page = await (await caches.match("{% url 'offline_form' %}")).text();
  const back = referrer.startsWith(`${location.origin}/`) ? referrer : TODAY;
  const headers = { "Content-Type": "text/html; charset=utf-8" };
  return new Response(page.replace(`data-back href="${TODAY}"`, () => `href="${back.replaceAll("&", "&amp;")}"`), { headers });
}

async function navigate(request, pathname) {
  if (!(await hasLeft())) return caches.match("{% url 'offline_turn' %}");
  if (isDoor(pathname)) return handOn(request);
  if (request.method !== "GET") return fetch(request).catch(() => withoutAnswer(request));
  if (NEVER.test(pathname)) return fetch(request);
  return networkFirst(request, KEPT_PAGES.test(pathname) ? PAGES : null);
}

// --- what the phone's recorder shares --------------------------------------------

// Whoever's Today is kept here is signed in here.
async function whoIsHere() {
  const today = await caches.match(TODAY, { cacheName: PAGES });
  return today ? ((await today.text()).match(/ data-profile="([^"]*)"/)?.[1] ?? "") : "";
}

async function takeIn(request) {
  const fields = await request.formData();
  const files = fields.getAll("recordings").filter((one) => one instanceof File);
  try {
    await self.inbox.put(files, await whoIsHere());
  } catch (trouble) {
    if (trouble.name !== "QuotaExceededError") throw trouble;
    return Response.redirect("{% url 'day_files' %}?full", 303);
  }
  return Response.redirect("{% url 'day_files' %}", 303);
}

function answered(request, pathname) {
  if (request.method === "POST" && pathname === SIGN_OUT) return signOut(request);
  if (request.method === "POST" && pathname === SHARED) return takeIn(request);
  if (request.mode === "navigate") return navigate(request, pathname);
  if (request.method !== "GET" || NEVER.test(pathname)) return null;
  if (pathname.startsWith("{% get_static_prefix %}")) return networkFirst(request, SHELL);
  return KEPT_PAGES.test(pathname) ? networkFirst(request, PAGES) : null;
}

self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  const answer = origin === location.origin ? answered(event.request, pathname) : null;
  if (answer) event.respondWith(answer);
});

// A page asks for what it will need without network.
self.addEventListener("message", (event) => {
  const keep = (event.data?.keep ?? []).map((path) => fromNetwork(new Request(path), PAGES).catch(() => null));
  event.waitUntil(Promise.all(keep));
});

// --- the note of a reminder --------------------------------------------------------

// Its words come sealed, in the reader's language, and name nobody.
self.addEventListener("push", (event) => {
  const { title, body, lang, icon, open } = event.data.json();
  event.waitUntil(self.registration.showNotification(title, { body, lang, icon, tag: "reminder", data: { open } }));
});

// The browser has a new address for notes: each page on which they were asked for here is told, by its own form.
self.addEventListener("pushsubscriptionchange", (event) => event.waitUntil(moveNotes()));

async function moveNotes() {
  for (const { url } of await (await caches.open(NOTES)).keys()) await moveNotesOf(url);
}

async function moveNotesOf(page) {
  const answer = await fetch(page);
  const words = answer.ok && !answer.redirected ? await answer.text() : "";
  const [, key] = words.match(/ data-site-key="([^"]+)" data-here=/) ?? [];
  if (!key) return; // nobody wants them here any more
  const given = await self.registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key });
  const { endpoint, keys } = given.toJSON();
  const [, csrfmiddlewaretoken] = words.match(/name="csrfmiddlewaretoken" value="([^"]+)"/);
  const fields = { what: "add", csrfmiddlewaretoken, endpoint, public_key: keys.p256dh, auth: keys.auth };
  await fetch(page, { method: "POST", body: new URLSearchParams(fields), redirect: "manual" });
}

async function openPage(path) {
  const pages = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  const there = pages.find((page) => new URL(page.url).pathname === path);
  return there ? there.focus() : self.clients.openWindow(path);
}

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(openPage(event.notification.data.open));
});
