// Brass is “here, now”: first the moment to hear; once that was heard it moves on to Done for today.

document.addEventListener("footing:heard", ({ target }) => {
  if (!target.matches(".brass")) return;
  target.classList.remove("brass");
  document.getElementById("done-for-today")?.classList.add("brass");
});
