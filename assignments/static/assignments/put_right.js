/* After a form came back: the first field that wants another look is shown and written in. It may lie screens below. */

const first = document.querySelector('[aria-invalid="true"], .field-error');
const folded = first?.closest("details");
if (folded) folded.open = true;
first?.scrollIntoView({ block: "center" });
first?.focus({ preventScroll: true });
