// Feedback on a practice: what this browser still has is sent, and the verdict comes by itself.

import { followListening } from "../parts/listening.js";
import { sendWhatIsLeft } from "../parts/send-what-is-left.js";

const ASK_MS = 1000;
const waiting = document.getElementById("waiting");
let behindS = 0;

async function look() {
  try {
    const answer = await fetch("/practice/copy", { cache: "no-store" });
    if (!answer.ok) return;
    const copy = await answer.json();
    if (copy.heldS > 0 && copy.openTakes.length === 0 && behindS === 0) location.reload();
  } catch {
    // The station is away for a moment; it is asked again.
  }
}

if (waiting) {
  setInterval(() => void look(), ASK_MS);
  void sendWhatIsLeft(waiting.dataset.place ?? "", (leftS) => {
    behindS = leftS;
  });
} else {
  followListening();
}
