// Brass is “here, now”: first the moment to hear; once that was heard it moves on to what comes next: Go on, or Done for today.

document.addEventListener("footing:heard", ({ target }) => {
  if (!target.matches(".brass")) return;
  target.classList.remove("brass");
  document.querySelector("[data-bright-next]")?.classList.add("brass");
});
