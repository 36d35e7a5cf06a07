// Handing in. Without this script the page works by itself; with it, it says while one types how
// far the station's copy is, sends what this browser still has, and keeps what was typed.

import { draftName, draftOf, fieldsOf } from "../core/hand_in.js";
import { sendWhatIsLeft } from "../parts/send-what-is-left.js";
import * as texts from "../texts/hand_in.js";

const ASK_MS = 2000;

const form = /** @type {HTMLFormElement} */ (document.getElementById("form"));
const copy = /** @type {HTMLElement} */ (document.getElementById("copy"));
const said = /** @type {HTMLElement} */ (document.getElementById("copy-said"));
const unsent = /** @type {HTMLInputElement} */ (document.getElementById("unsent"));
const thinking = /** @type {HTMLElement} */ (document.getElementById("thinking"));
const place = form.dataset.place ?? "";

let behindS = 0;
let told = copy.textContent ?? "";
let whole = copy.dataset.open === undefined;

/** @returns {(HTMLInputElement | HTMLTextAreaElement)[]} */
function fields() {
  return [...form.querySelectorAll("input:not([type]), textarea")].map(
    (field) => /** @type {HTMLInputElement | HTMLTextAreaElement} */ (field),
  );
}

function keepDraft() {
  const draft = draftOf(fields().map((field) => [field.name, field.value]));
  sessionStorage.setItem(draftName(place), draft);
}

function bringBackDraft() {
  const typed = new Map(fieldsOf(sessionStorage.getItem(draftName(place)) || null));
  for (const field of fields()) {
    if (field.value === "") field.value = typed.get(field.name) ?? "";
  }
}

function show() {
  copy.textContent = behindS > 0 ? `${told} ${texts.behind(behindS)}` : told;
}

/** @param {boolean} isWhole */
function say(isWhole) {
  // Told once at each change: a count that moves is not for reading aloud.
  if (!whole && isWhole) said.textContent = texts.ALL_THERE;
  whole = isWhole;
}

async function ask() {
  try {
    const answer = await fetch("/stand/hand-in/copy", { cache: "no-store" });
    if (!answer.ok) return;
    const seen = await answer.json();
    told = seen.sentence;
    say(seen.openTakes.length === 0 && behindS === 0);
  } catch {
    told = texts.AWAY;
    whole = false;
  }
  show();
}

/** @param {number} leftS */
function standing(leftS) {
  behindS = leftS;
  unsent.value = String(behindS);
  if (behindS > 0) whole = false;
  show();
}

form.addEventListener("input", keepDraft);
form.addEventListener("submit", (event) => {
  if (behindS > 0) {
    event.preventDefault();
    thinking.textContent = texts.WAIT;
    return;
  }
  if (form.dataset.sent !== undefined) {
    // Pressed twice.
    event.preventDefault();
    return;
  }
  form.dataset.sent = "";
  thinking.textContent = thinking.dataset.words ?? "";
});
window.addEventListener("pageshow", () => delete form.dataset.sent);

bringBackDraft();
setInterval(() => void ask(), ASK_MS);
void sendWhatIsLeft(place, standing);
