// The receipt: the verdict comes when listening is over; the page can be printed.

import { followListening } from "../parts/listening.js";

const print = /** @type {HTMLButtonElement} */ (document.getElementById("print"));

print.hidden = false;
print.addEventListener("click", () => window.print());

// What was typed for handing in has arrived, and is nobody's business here any more.
for (const name of Object.keys(sessionStorage)) {
  if (name.startsWith("hand-in ")) sessionStorage.removeItem(name);
}

followListening();
