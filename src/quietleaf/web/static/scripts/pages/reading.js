// One reading's page. Without this script each "Hear it" opens the sound at its place; with it
// the place is played here, and the page stays. Repairs are compared without losing the place.

import { Comparison } from "../audio/comparison.js";

/** @typedef {import("../audio/comparison.js").Version} Version */

const player = /** @type {HTMLAudioElement | null} */ (document.getElementById("player"));

const compared = document.getElementById("compared");
const comparison = new Comparison();
/** @type {Element | null} */
let item = null;

/** @param {MouseEvent} event */
function playFrom(event) {
  const link = /** @type {HTMLAnchorElement} */ (event.currentTarget);
  if (player === null || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  hush();
  player.currentTime = Number(link.dataset.playFromS);
  // A browser may refuse to play; the player stands at the place then, one key from playing.
  player.play().catch(() => player.focus());
}

for (const link of document.querySelectorAll("a[data-play-from-s]")) {
  link.addEventListener("click", /** @type {EventListener} */ (playFrom));
}

/** @param {Element} item @param {Version} version */
function linkOf(item, version) {
  return /** @type {HTMLAnchorElement} */ (item.querySelector(`a[data-version="${version}"]`));
}

/** @param {Element} item @param {string} words */
function say(item, words) {
  const status = /** @type {HTMLElement} */ (item.querySelector("[role=status]"));
  status.textContent = words;
}

function tell() {
  if (item !== null) say(item, linkOf(item, comparison.heard).dataset.playing ?? "");
}

function hush() {
  comparison.stop();
  if (item !== null) say(item, "");
  item = null;
}

/** @param {Element} wanted @param {Version} version */
async function compare(wanted, version) {
  player?.pause();
  hush();
  item = wanted;
  const addresses = { before: linkOf(item, "before").href, now: linkOf(item, "now").href };
  try {
    if (await comparison.play(addresses, version, tell)) hush();
  } catch {
    hush();
    say(wanted, compared?.dataset.noSound ?? "");
  }
}

compared?.addEventListener("click", (event) => {
  const target = /** @type {Element} */ (event.target);
  const link = /** @type {HTMLAnchorElement | null} */ (target.closest("a[data-version]"));
  const wanted = link?.closest("li");
  if (!link || !wanted || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  compare(wanted, link.dataset.version === "now" ? "now" : "before");
});

// The key counts in the list alone, where the focus is (WCAG 2.1.4).
compared?.addEventListener("keydown", (event) => {
  const isOther = event.key.toLowerCase() !== compared.dataset.key?.toLowerCase();
  if (isOther || event.ctrlKey || event.metaKey || event.altKey || !comparison.isPlaying) return;
  event.preventDefault();
  comparison.change();
  tell();
});
player?.addEventListener("play", hush);
