// A pause between two stretches of speech: where it lies, and the place in it. The same arithmetic as
// the station's (listening/sentence_pause.py).

import { at, dbov } from "./sentence_frames.js";

const QUIET_OVER_FLOOR_DB = [5, 7];
const FLOOR_SHARE = 0.1;
const BACK_FRAMES = 1;
const AHEAD_FRAMES = 7;
const MARGIN_FRAMES = 3;
const BREATH_GAP_FRAMES = 30;
const CONSONANT_FRAMES = 25;
const LEAD_FRAMES = 12;
const REACH_FRAMES = 1500;

/**
 * In frames.
 * @typedef {object} Pause
 * @property {number} start the release of the word before
 * @property {number} stop the onset of what follows
 * @property {number} place a frame of room tone
 */

/** @typedef {{start: number, stop: number}} Stretch Half-open. */

/**
 * Find the pause that has just ended.
 * @param {import("./sentence_frames.js").FramesState} state
 * @returns {Pause}
 */
export function pauseBefore(state) {
  const { speechStop: start, runStart, firstVoiced } = state;
  // A breath that goes over into the words is in the pause; a consonant is not.
  const isConsonant = firstVoiced - runStart <= CONSONANT_FRAMES;
  const stop = isConsonant ? runStart : firstVoiced - LEAD_FRAMES;
  const first = Math.max(start, stop - REACH_FRAMES);
  const levels = new Float64Array(Math.max(0, stop - first));
  for (let index = 0; index < levels.length; index += 1) {
    levels[index] = dbov(at(state.power, first + index));
  }
  return { start, stop, place: first + placeIn(levels) };
}

/**
 * Give the frame of a pause to go back to. A frame is at rest if it, the one before and the seven
 * after it lie near the pause's own floor; where there is none, fewer after it have to. Of the
 * stretches of such frames the last is taken, or an earlier one while the later is shorter than
 * 0.3 s: what lies between is a breath, and belongs to what follows.
 * @param {Float64Array} levels
 */
function placeIn(levels) {
  if (levels.length === 0) return 0;
  const floor = /** @type {number} */ (levels.toSorted()[Math.floor(FLOOR_SHARE * levels.length)]);
  for (let ahead = AHEAD_FRAMES; ahead > 0; ahead -= 1) {
    for (const overDb of QUIET_OVER_FLOOR_DB) {
      const chosen = chosenOf(stretchesOf(levels, floor + overDb, BACK_FRAMES + 1 + ahead));
      if (chosen === null) continue;
      const last = chosen.stop - 1 - ahead;
      return Math.max(Math.floor((chosen.start + BACK_FRAMES + last) / 2), last - MARGIN_FRAMES);
    }
  }
  return levels.indexOf(Math.min(...levels));
}

/** @param {Stretch[]} stretches */
function chosenOf(stretches) {
  const long = stretches.findLastIndex(({ start, stop }) => stop - start >= BREATH_GAP_FRAMES);
  return stretches[Math.max(0, long)] ?? null;
}

/**
 * Give the stretches of at least so many quiet frames.
 * @param {Float64Array} levels
 * @param {number} under
 * @param {number} least
 */
function stretchesOf(levels, under, least) {
  /** @type {Stretch[]} */
  const stretches = [];
  levels.forEach((level, index) => {
    if (level >= under) return;
    const last = stretches.at(-1);
    if (last?.stop === index) last.stop += 1;
    else stretches.push({ start: index, stop: index + 1 });
  });
  return stretches.filter(({ start, stop }) => stop - start >= least);
}
