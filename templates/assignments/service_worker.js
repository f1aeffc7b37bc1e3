{% load static %}// Keeps what Today needs, so that it opens and records without network. Network first, the kept copy as fallback.
// Recordings and the API are never kept. Pages with people's data go when somebody signs out, or is signed out.

const SHELL = "shell-{{ version }}";
const PAGES = "pages";
const ALWAYS = [{% for name in names %}"{% static name %}", {% endfor %}"{% url 'offline' %}"];
const KEPT_PAGES = /^\/(today\/|today\/set-up\/|today\/play\/|mine\/|range\/|exercises\/[0-9a-f-]+\/)$/;
const NEVER = /^\/(api|takes|support|studio)\//;
const DOORS = ["{% url 'sign-in' %}", "{% url 'whose_turn' %}"];
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((cache) => cache.addAll(ALWAYS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("shell-") && name !== SHELL;
  const clear = caches.keys().then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))));
  event.waitUntil(clear.then(() => self.clients.claim()));
});

function signedOut(response) {
  return response.redirected && DOORS.includes(new URL(response.url).pathname);
}

async function fromNetwork(request, cacheName) {
  const response = await fetch(request);
  if (signedOut(response)) await caches.delete(PAGES);
  else if (response.ok && !response.redirected && cacheName) {
    const copy = response.clone();
    const cache = await caches.open(cacheName);
    await cache.put(request, copy);
  }
  return response;
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
    return response && (response.status < 500 || !kept) ? response : kept;
  } catch (trouble) {
    if (kept) return kept;
    if (request.mode === "navigate") return caches.match("{% url 'offline' %}");
    throw trouble;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (pathname === "{% url 'sign-out' %}" || pathname.startsWith("{% url 'whose_turn' %}")) {
    event.waitUntil(caches.delete(PAGES));
    return;
  }
  if (request.method !== "GET" || NEVER.test(pathname)) return;
  if (pathname.startsWith("{% get_static_prefix %}")) event.respondWith(networkFirst(request, SHELL));
  else if (KEPT_PAGES.test(pathname)) event.respondWith(networkFirst(request, PAGES));
  else if (request.mode === "navigate") event.respondWith(networkFirst(request, null));
});

// A page asks for what it will need without network.
self.addEventListener("message", (event) => {
  const keep = (event.data?.keep ?? []).map((path) => fromNetwork(new Request(path), PAGES).catch(() => null));
  event.waitUntil(Promise.all(keep));
});
