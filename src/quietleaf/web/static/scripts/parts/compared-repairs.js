// Repairs on a reading's page, compared without losing the place. Without this each opens by itself.

import { Comparison } from "../audio/comparison.js";

/** @typedef {import("../audio/comparison.js").Version} Version */

/**
 * @param {HTMLElement} list
 * @param {HTMLAudioElement} player Falls silent while repairs are heard.
 */
export function compareRepairs(list, player) {
  const comparison = new Comparison();
  /** @type {Element | null} */
  let item = null;

  /** @param {Element} of @param {string} words */
  function say(of, words) {
    const status = /** @type {HTMLElement} */ (of.querySelector("[role=status]"));
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
    player.pause();
    hush();
    item = wanted;
    const addresses = { before: linkOf(item, "before").href, now: linkOf(item, "now").href };
    try {
      if (await comparison.play(addresses, version, tell)) hush();
    } catch {
      hush();
      say(wanted, list.dataset.noSound ?? "");
    }
  }

  list.addEventListener("click", (event) => {
    const target = /** @type {Element} */ (event.target);
    const link = /** @type {HTMLAnchorElement | null} */ (target.closest("a[data-version]"));
    const wanted = link?.closest("li");
    if (!link || !wanted || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    compare(wanted, link.dataset.version === "now" ? "now" : "before");
  });

  // The key counts in the list alone, where the focus is (WCAG 2.1.4).
  list.addEventListener("keydown", (event) => {
    const isOther = event.key.toLowerCase() !== list.dataset.key?.toLowerCase();
    if (isOther || event.ctrlKey || event.metaKey || event.altKey || !comparison.isPlaying) return;
    event.preventDefault();
    comparison.change();
    tell();
  });
  player.addEventListener("play", hush);
}

/** @param {Element} item @param {Version} version */
function linkOf(item, version) {
  return /** @type {HTMLAnchorElement} */ (item.querySelector(`a[data-version="${version}"]`));
}
