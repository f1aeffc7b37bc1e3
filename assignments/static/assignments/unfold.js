/* Opens what is folded around the part of the page that its address names: not every browser does so by itself. */

function unfold() {
  const named = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const folded = named?.closest("details:not([open])");
  if (!folded) return;
  folded.open = true;
  named.scrollIntoView();
}

addEventListener("hashchange", unfold);
unfold();
