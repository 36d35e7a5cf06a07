// Sentence starts as they are spoken: pauses as they end, a place in each to go back to, and how
// likely it is. The same as the station's (listening/sentence_starts.py), also in that the answers do
// not depend on how the sound is cut. The state is changed in place.

import { FRAMES_PER_S, frameStart } from "./frames.js";
import { framesStep, startFrames } from "./sentence_frames.js";
import { likelihoodOf, startReader } from "./sentence_model.js";
import { pauseBefore } from "./sentence_pause.js";

/** Shorter ones are pauses of speaking, not of reading. */
const PAUSE_FRAMES_MIN = 10;

/**
 * A place from which reading can go on, in samples.
 * @typedef {object} SentenceStart
 * @property {number} place in room tone: before a breath where one leads into the words
 * @property {number} pauseStart the release of the word before
 * @property {number} pauseStop the onset of what follows
 * @property {number} likelihood that a sentence begins here, 0 to 1
 */

/**
 * @typedef {object} SentencesState
 * @property {import("./sentence_frames.js").FramesState} frames
 * @property {import("./sentence_model.js").ReaderState} reader
 * @property {number} speechStart frame in which the present speech began
 * @property {boolean} isAfresh what is said next begins a sentence, whatever the pause before it is
 */

/**
 * Begin before the first sample.
 * @param {number} rate samples a second
 * @param {import("./sentence_model.js").ReaderState} reader what is known of who reads
 * @returns {SentencesState}
 */
export function startSentences(rate, reader = startReader()) {
  return { frames: startFrames(rate), reader, speechStart: 0, isAfresh: true };
}

/**
 * Hear the next block, of any length.
 * @param {SentencesState} state
 * @param {Float32Array} samples
 * @returns {SentenceStart[]} those that became known
 */
export function sentencesStep(state, samples) {
  /** @type {SentenceStart[]} */
  const found = [];
  let from = 0;
  while (from < samples.length) {
    const { place, began } = framesStep(state.frames, samples, from);
    from = place;
    const start = began ? startOf(state) : null;
    if (start !== null) found.push(start);
  }
  return found;
}

/**
 * What was said does not count, and what is said next begins a sentence: the pause between is none of
 * this reader's.
 * @param {SentencesState} state
 */
export function breakOff(state) {
  state.isAfresh = true;
}

/**
 * The reader goes on from here: with what is being said, or with a sentence after this pause.
 * @param {SentencesState} state
 */
export function goOn(state) {
  state.isAfresh = !state.frames.isSpeech;
}

/**
 * @param {SentencesState} state
 * @returns {SentenceStart | null}
 */
function startOf(state) {
  const { frames, reader, isAfresh, speechStart } = state;
  const { start, stop, place } = pauseBefore(frames);
  if (!isAfresh && stop - start < PAUSE_FRAMES_MIN) return null;
  const pauseS = (stop - start) / FRAMES_PER_S;
  const speechS = (start - speechStart) / FRAMES_PER_S;
  state.isAfresh = false;
  state.speechStart = stop;
  return {
    place: frameStart(place, frames.rate),
    pauseStart: frameStart(start, frames.rate),
    pauseStop: frameStart(stop, frames.rate),
    likelihood: isAfresh ? 1 : likelihoodOf(reader, pauseS, speechS),
  };
}
