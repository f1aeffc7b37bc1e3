/* Your ear: an answer counts once the tone was heard; keys work while focus is among the buttons. */
import "./hear.js";

const buttons = { a: document.getElementById("accept"), n: document.getElementById("not-yet") };
const hint = document.getElementById("first");

if (hint) {
  for (const button of Object.values(buttons)) {
    button.setAttribute("aria-disabled", "true");
    button.classList.add("waits");
  }
  document.getElementById("hear").addEventListener("footing:hearing", () => {
    for (const button of Object.values(buttons)) {
      button.removeAttribute("aria-disabled");
      button.classList.remove("waits");
    }
  });
  document.getElementById("answer").addEventListener("submit", (event) => {
    if (event.submitter?.getAttribute("aria-disabled") !== "true") return;
    event.preventDefault();
    document.getElementById("said").textContent = hint.dataset.first;
  });
  document.getElementById("main").addEventListener("keydown", (event) => {
    if (event.target.id === "main" || event.ctrlKey || event.metaKey || event.altKey) return;
    const button = buttons[event.key.toLowerCase()];
    if (!button) return;
    button.click();
    event.preventDefault();
  });
}
