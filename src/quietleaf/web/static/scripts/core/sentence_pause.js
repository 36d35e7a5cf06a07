// A pause between two stretches of speech: where it lies, and the place in it. The same arithmetic as
// the station's (listening/sentence_pause.py).

import { at, dbov } from "./sentence_frames.js";

const QUIET_OVER_FLOOR_DB = 6;
const FLOOR_SHARE = 0.2;
const STRETCH_FRAMES_MIN = 10;
const BREATH_GAP_FRAMES = 30;
const BEFORE_FRAMES = 12;
const GUARD_FRAMES = 7;
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
  if (stop <= first) return { start, stop, place: stop };
  const levels = new Float64Array(stop - first).map((_, index) => dbov(at(state.power, first + index)));
  const floor = /** @type {number} */ (levels.toSorted()[Math.floor(FLOOR_SHARE * levels.length)]);
  const quiet = stretchesOf(levels, floor + QUIET_OVER_FLOOR_DB);
  return { start, stop, place: first + placeIn(quiet, stop - first) };
}

/**
 * Give a frame in the last stretch of room tone that is not between a breath and its words.
 * @param {Stretch[]} stretches
 * @param {number} count
 */
function placeIn(stretches, count) {
  if (stretches.length === 0) return Math.max(0, count - GUARD_FRAMES);
  let long = stretches.filter((one) => lengthOf(one) >= STRETCH_FRAMES_MIN);
  if (long.length === 0) long = [stretches.reduce((a, b) => (lengthOf(b) > lengthOf(a) ? b : a))];
  let chosen = /** @type {Stretch} */ (long.at(-1));
  for (const earlier of long.slice(0, -1).toReversed()) {
    if (lengthOf(chosen) >= BREATH_GAP_FRAMES) break;
    chosen = earlier;
  }
  const { start, stop } = chosen;
  const wanted = Math.max(Math.floor((start + stop) / 2), stop - BEFORE_FRAMES);
  return Math.max(start, Math.min(stop - GUARD_FRAMES, wanted));
}

/**
 * @param {Float64Array} levels
 * @param {number} under
 * @returns {Stretch[]}
 */
function stretchesOf(levels, under) {
  /** @type {Stretch[]} */
  const stretches = [];
  levels.forEach((level, index) => {
    if (level >= under) return;
    const last = stretches.at(-1);
    if (last?.stop === index) last.stop += 1;
    else stretches.push({ start: index, stop: index + 1 });
  });
  return stretches;
}

/** @param {Stretch} stretch */
function lengthOf({ start, stop }) {
  return stop - start;
}
