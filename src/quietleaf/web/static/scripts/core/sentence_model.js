// How likely a sentence begins after a pause, for this reader: learned as the reader goes on. The same
// as the station's (listening/sentence_model.py), which says what it is built on.
//
// A reader is four unknowns: how long the pauses between sentences are, how much shorter those inside
// them, how often either comes. Each is on a grid; a pause and the speech before it say which cells
// are likelier than before, and all cells together say what the pause was.

import { clamp } from "./frames.js";
import { NUMBERS } from "./sentence_numbers.js";

/** From here on a pause is taken for the one before a sentence. */
export const LIKELY = 0.6;
const LENGTHS = 24;
const LENGTH_S_MIN = 0.14;
const LENGTH_S_MAX = 1.8;
const SPREAD = [-1, 0, 1];
const WEIGHTS = [0.25, 0.5, 0.25];
const PAUSE_S_MIN = 0.091;
const PAUSE_S_MAX = 3;
const SPEECH_S_MIN = 0.2;
const SPEECH_S_MAX = 12;
/** Longer pauses say nothing of a reader: a page was turned, somebody came in. */
const LEARNED_S_MAX = 2;
const ODDS_MOST = 8;
const STRAY_INSIDE = 0.3;

/**
 * A cell of the grid.
 * @typedef {object} Cell
 * @property {number} length logarithm of the usual pause between sentences, seconds
 * @property {number} shorter by how much that of the usual pause inside one is less
 * @property {number} sentenceRate pauses of either kind in a second of speech
 * @property {number} innerRate
 * @property {number} prior its likelihood before anything was heard
 */

/** @typedef {number[]} ReaderState The likelihood of each cell. */

const CELLS = cellsOf();

/** @returns {ReaderState} */
export function startReader() {
  return CELLS.map(({ prior }) => prior);
}

/**
 * Say how likely a sentence begins after a pause, and learn from it. The state is changed in place.
 * @param {ReaderState} state
 * @param {number} pauseS
 * @param {number} speechS from the pause before to this one
 */
export function likelihoodOf(state, pauseS, speechS) {
  const { slope, middle, rates, offset, kept } = NUMBERS;
  const logPause = Math.log(clamp(pauseS, PAUSE_S_MIN, PAUSE_S_MAX));
  const spokenS = clamp(speechS, SPEECH_S_MIN, SPEECH_S_MAX);
  const learned = pauseS <= LEARNED_S_MAX ? state : [...state];
  let likelihood = 0;
  let total = 0;
  CELLS.forEach((cell, index) => {
    const { length, shorter, sentenceRate, innerRate } = cell;
    const over = clamp(slope * (logPause - (length - middle * shorter)), -ODDS_MOST, ODDS_MOST);
    const odds = over + rates * Math.log(sentenceRate / innerRate) + offset;
    const before = /** @type {number} */ (state[index]);
    likelihood += before / (1 + Math.exp(-odds));
    const after = before * heardIn(cell, logPause, spokenS);
    learned[index] = after;
    total += after;
  });
  CELLS.forEach(({ prior }, index) => {
    learned[index] = (kept * /** @type {number} */ (learned[index])) / total + (1 - kept) * prior;
  });
  return likelihood;
}

/**
 * How well a pause, and the speech before it, fit a cell.
 * @param {Cell} cell
 * @param {number} logPause
 * @param {number} spokenS
 */
function heardIn({ length, shorter, sentenceRate, innerRate }, logPause, spokenS) {
  const { betweenSpread, innerSpread, longer, stray } = NUMBERS;
  const away = (logPause - length) / betweenSpread;
  const between = (bell(away > 0 ? longer * away : away) + stray) / betweenSpread;
  const inside = (logPause - (length - shorter)) / innerSpread;
  const inner = (bell(inside) + STRAY_INSIDE * stray) / innerSpread;
  const none = Math.exp(-(sentenceRate + innerRate) * spokenS);
  return none * (between * sentenceRate + inner * innerRate);
}

/** @returns {Cell[]} */
function cellsOf() {
  const numbers = NUMBERS;
  const [least, most] = [Math.log(LENGTH_S_MIN), Math.log(LENGTH_S_MAX)];
  const lengths = Array.from(
    { length: LENGTHS },
    (_, index) => least + (index * (most - least)) / (LENGTHS - 1),
  );
  const usual = lengths.map((length) => bell((length - numbers.lengthMean) / numbers.lengthSpread));
  const sum = usual.reduce((a, b) => a + b);
  return lengths.flatMap((length, i) =>
    SPREAD.flatMap((shorter, j) =>
      SPREAD.flatMap((sentence, k) =>
        SPREAD.map((inner, m) => ({
          length,
          shorter: numbers.shorterMean + numbers.shorterSpread * shorter,
          sentenceRate: Math.exp(numbers.sentenceRate + numbers.rateSpread * sentence),
          innerRate: Math.exp(numbers.innerRate + numbers.rateSpread * inner),
          prior: (/** @type {number} */ (usual[i]) / sum) * weight(j) * weight(k) * weight(m),
        })),
      ),
    ),
  );
}

/** @param {number} index */
function weight(index) {
  return /** @type {number} */ (WEIGHTS[index]);
}

/** @param {number} away */
function bell(away) {
  return Math.exp(-0.5 * away * away);
}
