/* Everyone's week: whom to tick is done in the page, so that a week that was begun to be written stays. Without scripts
 * the links ask for the page anew. */

for (const link of document.querySelectorAll("[data-tick]")) {
  link.addEventListener("click", (event) => {
    event.preventDefault();
    const which = link.dataset.tick;
    for (const box of document.querySelectorAll('[name="horns"]'))
      box.checked = which === "all" || (which === "over" && "over" in box.dataset);
  });
}
