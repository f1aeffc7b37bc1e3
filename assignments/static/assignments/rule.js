/* The rule: what it would do is told anew whenever a part of it changes. Without scripts the button asks for it. */

const form = document.getElementById("rule");
const told = document.getElementById("foreseen");
const STILL_MS = 400; // somebody who steps through a list is waited for

let waiting;
let asking;

async function tell() {
  asking?.abort();
  asking = new AbortController();
  const body = new FormData(form);
  body.set("do", "try");
  told.textContent = told.dataset.waits;
  try {
    const answer = await fetch(location.href, {
      method: "POST",
      body,
      credentials: "same-origin",
      headers: { "X-Requested-With": "fetch" },
      signal: asking.signal,
    });
    if (answer.redirected) throw new Error("redirected"); // signed out: what came is the sign-in page
    if (!answer.ok && answer.status !== 400) throw new Error(String(answer.status));
    told.innerHTML = await answer.text();
  } catch (error) {
    if (error.name !== "AbortError") told.textContent = told.dataset.failed;
  }
}

form.addEventListener("change", (event) => {
  if (["from_on", "words"].includes(event.target.name)) return;
  clearTimeout(waiting);
  waiting = setTimeout(tell, STILL_MS);
});

document.getElementById("try").addEventListener("click", (event) => {
  event.preventDefault();
  tell();
  told.scrollIntoView({ block: "center" });
});
