// What the station will cut off a take: what lies before its first word and after its last, but for
// a little of the room. Reckoned here too, so that the time left is right at once.

/** As the station leaves it (work/trim_take). */
const ROOM_BEFORE_S = 0.2;
const ROOM_AFTER_S = 0.3;
const WITHOUT_VOICE_S = 2;

/**
 * @param {number} fromS Where the take began.
 * @param {number} toS Where it was held.
 * @param {number | null} firstWordS
 * @param {number | null} lastWordEndS
 */
export function trimmedS(fromS, toS, firstWordS, lastWordEndS) {
  if (firstWordS === null || lastWordEndS === null) {
    // A key pressed twice goes whole; a longer take without a voice is for somebody to hear.
    return toS - fromS < WITHOUT_VOICE_S ? toS - fromS : 0;
  }
  const before = Math.max(0, firstWordS - fromS - ROOM_BEFORE_S);
  return before + Math.max(0, toS - lastWordEndS - ROOM_AFTER_S);
}
