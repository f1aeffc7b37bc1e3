// Notes of a reminder on this device. The browser is asked when somebody taps, never before; what it gives goes to the studio
// by the page's own form. What there is to say stands in the page: <p data-when="…">.

const PATIENCE_MS = 20_000; // a browser whose own service is away may never answer

const form = document.getElementById("add");
const button = form.querySelector("button");

function say(when) {
  document.querySelectorAll("[data-when]").forEach((words) => (words.hidden = words.dataset.when !== when));
  form.hidden = ["unknown", "denied", "here"].includes(when);
}

function bytes(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

function text(buffer) {
  const plain = String.fromCharCode(...new Uint8Array(buffer));
  return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

async function pushes() {
  await navigator.serviceWorker.register("/service-worker.js");
  return (await navigator.serviceWorker.ready).pushManager;
}

async function subscribed() {
  const manager = await pushes();
  const known = await manager.getSubscription();
  if (known && text(known.options.applicationServerKey) !== form.dataset.siteKey) await known.unsubscribe();
  return manager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(form.dataset.siteKey) });
}

function patience() {
  return new Promise((_given, refuse) => setTimeout(refuse, PATIENCE_MS, new DOMException("", "TimeoutError")));
}

async function add() {
  button.disabled = true;
  try {
    if ((await Notification.requestPermission()) !== "granted") return say(Notification.permission === "denied" ? "denied" : "ask");
    const given = await Promise.race([subscribed(), patience()]);
    form.elements.endpoint.value = given.endpoint;
    form.elements.public_key.value = text(given.getKey("p256dh"));
    form.elements.auth.value = text(given.getKey("auth"));
    form.submit();
  } catch (trouble) {
    console.warn(trouble.name);
    say("failed");
  } finally {
    button.disabled = false;
  }
}

async function begin() {
  if (!("PushManager" in window && "Notification" in window && navigator.serviceWorker)) return say("unknown");
  if (Notification.permission === "denied") return say("denied");
  if (form.dataset.here === undefined) return say("ask");
  await (await caches.open("notes")).put(location.pathname, new Response()); // the service worker asks here when the address changes
  const kept = Notification.permission === "granted" && (await (await pushes()).getSubscription());
  if (!kept) return say("lost");
  const sum = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(kept.endpoint));
  return say(text(sum) === form.dataset.here ? "here" : "moved");
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  add();
});
begin();
