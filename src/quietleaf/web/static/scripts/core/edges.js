// What the station will cut off a take: what lies before its first word and after its last, but for
// a little of the room. Reckoned here too, so that the time left is right at once.

/** As the station leaves it (work/trim_take). */
const ROOM_BEFORE_S = 0.2;
const ROOM_AFTER_S = 0.3;
const WITHOUT_VOICE_S = 2;

/** @typedef {import("./programme.js").Stretch} Stretch */

/**
 * @param {number} fromS Where the take began.
 * @param {number} toS Where it was held.
 * @param {number | null} firstWordS
 * @param {number | null} lastWordEndS
 * @returns {Stretch[]}
 */
export function edgesOf(fromS, toS, firstWordS, lastWordEndS) {
  if (firstWordS === null || lastWordEndS === null) {
    // A key pressed twice goes whole; a longer take without a voice is for somebody to hear.
    return toS - fromS < WITHOUT_VOICE_S ? [{ startS: fromS, stopS: toS }] : [];
  }
  return [
    { startS: fromS, stopS: firstWordS - ROOM_BEFORE_S },
    { startS: lastWordEndS + ROOM_AFTER_S, stopS: toS },
  ].filter(({ startS, stopS }) => startS < stopS);
}
