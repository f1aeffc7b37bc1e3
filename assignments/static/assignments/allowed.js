// Recording goes on only while a grown-up agrees to it: permission may be taken back while the page stands open.
//
// One rule: what is being played when permission ends is thrown away; what was finished waits on this phone, and Mine shows it.
// Any other no (a gate that shut, somebody else signed in, a machine on the way) throws nothing away.

import { NOT_ALLOWED } from "./sender.js";

const ASK_AGAIN_MS = 30_000; // a long run sends nothing that would be refused, nor does a phone that waits for Wi-Fi
const WHY = "Footing-Refusal"; // what stands against playing this page's work, as the studio calls it

// Calls `stop` as soon as the studio says so of this very page; without network nobody can tell.
export function whileAllowed(stop) {
  let isOver = false;
  const ask = async () => {
    const answer = document.hidden ? null : await fetch(location.href, { method: "HEAD", signal: AbortSignal.timeout(ASK_AGAIN_MS) }).catch(() => null);
    if (isOver || answer?.headers.get(WHY) !== "no_consent") return;
    isOver = true;
    clearInterval(asking);
    stop();
  };
  const asking = setInterval(ask, ASK_AGAIN_MS);
  addEventListener(NOT_ALLOWED, ask); // a recording was refused: perhaps one of other work
}
