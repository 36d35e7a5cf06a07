// How likely a pause is the one before a sentence, for this reader: the same as the station's
// (listening/sentence_model.py).

/** Likelier places are sentence starts. */
export const LIKELY = 0.5;
const USUAL_S = 0.5;
const STEEPNESS = 3;

/** @param {number} pauseS */
export function likelihoodOf(pauseS) {
  return 1 / (1 + Math.exp(-STEEPNESS * Math.log(pauseS / USUAL_S)));
}
