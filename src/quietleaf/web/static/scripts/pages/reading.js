// One reading's page. Without this script each "Hear it" opens the sound at its place; with it
// the place is played here, and the page stays.

const player = /** @type {HTMLAudioElement | null} */ (document.getElementById("player"));

/** @param {MouseEvent} event */
function playFrom(event) {
  const link = /** @type {HTMLAnchorElement} */ (event.currentTarget);
  if (player === null || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  player.currentTime = Number(link.dataset.playFromS);
  // A browser may refuse to play; the player stands at the place then, one key from playing.
  player.play().catch(() => player.focus());
}

for (const link of document.querySelectorAll("a[data-play-from-s]")) {
  link.addEventListener("click", /** @type {EventListener} */ (playFrom));
}
