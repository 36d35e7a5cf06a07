// Time left, and what it is in print: how many words still fit, when to look for a place to end,
// when to begin the closing words. Pure; time is counted from samples by whoever asks.

/**
 * How fast somebody reads, and how far that is to be trusted.
 * @typedef {object} Pace
 * @property {number} wordsPerMin
 * @property {number} knownS as if it had been measured over so many seconds
 */

/**
 * What there is to reckon with.
 * @typedef {object} Given
 * @property {{shortestS: number, longestS: number | null} | null} window null: length is free
 * @property {number} readS read so far, without what is cut or read again
 * @property {number} wordsPerMin
 * @property {number} closingWords how many; 0 where there are none
 * @property {boolean} closingBegun
 * @property {number | null} [aimS] the length aimed at; the far end of the window without it
 * @property {number[]} [warningsMin]
 * @property {number[]} [articlesS] where articles began, in seconds read
 */

/**
 * @typedef {object} Time
 * @property {boolean} over beyond the end
 * @property {number} minutes
 * @property {number} seconds 0 to 59
 */

/**
 * @typedef {"reading" | "look-for-end" | "begin-closing" | "closing" | "over"} PacingStage
 */

/**
 * @typedef {object} Pacing
 * @property {number} secondsLeft to the aim; below zero beyond it
 * @property {Time} left the same as people say it
 * @property {number} wordsLeft before the closing words begin, rounded; 0 beyond
 * @property {number | null} itemsLeft as long as those so far; null until two are read
 * @property {number} closingS how long the closing words last
 * @property {number} lookForEndAtS in seconds read
 * @property {number} beginClosingAtS in seconds read: the last moment, with a little in hand
 * @property {number} earliestClosingAtS in seconds read: begun earlier they end before the window
 * @property {PacingStage} stage
 * @property {number | null} warningMin the warning that is due: say it once
 * @property {number} place in the column, 0 to 1
 * @property {number} closingPlace where the closing words begin in it
 * @property {number} shortestPlace where the window begins in it
 */

/** A pace that nobody measured counts as if heard for so long; one from earlier readings for more. */
export const GUESSED_S = 20;
export const EARLIER_S = 120;
const KNOWN_S_MAX = 600;

/** A pace outside this is a mark set in the wrong place. People read aloud at 120 to 210. */
const WORDS_PER_MIN_MIN = 70;
const WORDS_PER_MIN_MAX = 300;

/** So much is left in hand at the end, as people do not read to the second. */
const IN_HAND_S = 5;
/** From here on: time to come to the end of an article, not to begin a long one. */
const LOOK_AHEAD_S = 60;

/**
 * Give the pace of what was read; null where that says nothing.
 * @param {number} words
 * @param {number} spokenS
 */
export function paceOf(words, spokenS) {
  if (!(words > 0 && spokenS > 0)) return null;
  const wordsPerMin = (60 * words) / spokenS;
  return wordsPerMin < WORDS_PER_MIN_MIN || wordsPerMin > WORDS_PER_MIN_MAX ? null : wordsPerMin;
}

/**
 * Say how far a pace is to be trusted to begin with.
 * @param {number} wordsPerMin
 * @param {boolean} measured in earlier readings of this reader
 * @returns {Pace}
 */
export function knownPace(wordsPerMin, measured) {
  return { wordsPerMin, knownS: measured ? EARLIER_S : GUESSED_S };
}

/**
 * Mix what is known with what was just measured: each by how long it was heard.
 * @param {Pace} pace
 * @param {number} words
 * @param {number} spokenS
 * @returns {Pace} the same pace where the measurement says nothing
 */
export function mixedPace(pace, words, spokenS) {
  if (paceOf(words, spokenS) === null) return pace;
  const known = (pace.wordsPerMin * pace.knownS) / 60;
  return {
    wordsPerMin: (60 * (known + words)) / (pace.knownS + spokenS),
    knownS: Math.min(pace.knownS + spokenS, KNOWN_S_MAX),
  };
}

/**
 * Count the words of a text as they are said: a number counts a word for every two figures.
 * @param {string} text
 */
export function wordsIn(text) {
  let count = 0;
  for (const word of text.split(/\s+/u)) {
    const figures = (word.match(/\d/gu) ?? []).length;
    if (figures > 0) count += Math.ceil(figures / 2);
    else if (/\p{L}/u.test(word)) count += 1;
  }
  return count;
}

/**
 * Reckon what is left; null where length is free: then nobody is told of time.
 * @param {Given} given
 * @returns {Pacing | null}
 */
export function reckon(given) {
  const { window, readS, wordsPerMin, closingWords, closingBegun } = given;
  if (window === null) return null;
  const farS = window.longestS ?? window.shortestS;
  const aimS = Math.min(Math.max(given.aimS ?? farS, window.shortestS), farS);
  const closingS = (60 * closingWords) / wordsPerMin;
  const inHandS = Math.min(IN_HAND_S, (farS - window.shortestS) / 2);
  const beginClosingAtS = Math.max(0, aimS - closingS - (aimS === farS ? inHandS : 0));
  const earliestClosingAtS = Math.max(0, window.shortestS - closingS);
  const lookForEndAtS = Math.max(0, Math.max(earliestClosingAtS, beginClosingAtS - LOOK_AHEAD_S));
  const secondsLeft = aimS - readS;
  const toReadS = Math.max(0, beginClosingAtS - readS);
  return {
    secondsLeft,
    left: timeOf(secondsLeft),
    wordsLeft: closingBegun ? 0 : roundedWords((toReadS * wordsPerMin) / 60),
    itemsLeft: closingBegun ? 0 : itemsLeft(given.articlesS ?? [], readS, toReadS),
    closingS,
    lookForEndAtS,
    beginClosingAtS,
    earliestClosingAtS,
    stage: stageOf(),
    warningMin: warningOf(given.warningsMin ?? [], secondsLeft, aimS),
    place: share(readS, farS),
    closingPlace: share(beginClosingAtS, farS),
    shortestPlace: share(window.shortestS, farS),
  };

  /** @returns {PacingStage} */
  function stageOf() {
    if (readS > farS) return "over";
    if (closingBegun) return "closing";
    if (readS >= beginClosingAtS) return "begin-closing";
    return readS >= lookForEndAtS ? "look-for-end" : "reading";
  }
}

/**
 * Round as people say it: to hundreds from 1,000 on, to fifties from 200, to tens below.
 * @param {number} words
 */
export function roundedWords(words) {
  const unit = words >= 1000 ? 100 : words >= 200 ? 50 : 10;
  return Math.max(0, Math.round(words / unit) * unit);
}

/**
 * Split seconds into minutes and seconds: what is left is counted up to the next whole second, what
 * is beyond the end down to the last.
 * @param {number} timeS
 * @returns {Time}
 */
export function timeOf(timeS) {
  const over = timeS < 0;
  const whole = over ? Math.floor(-timeS) : Math.ceil(timeS);
  return { over, minutes: Math.floor(whole / 60), seconds: whole % 60 };
}

/**
 * Give the least warning whose time has come: the one that is due if it was not given yet. One as
 * long as the whole reading says nothing.
 * @param {number[]} warningsMin
 * @param {number} secondsLeft
 * @param {number} aimS
 */
function warningOf(warningsMin, secondsLeft, aimS) {
  if (secondsLeft <= 0) return null;
  const due = warningsMin.filter((minutes) => secondsLeft <= 60 * minutes && 60 * minutes < aimS);
  return due.length > 0 ? Math.min(...due) : null;
}

/** Marks nearer to each other are a slip of the key, not an article (common practice, no source). */
const ARTICLE_S_MIN = 15;

/**
 * Say how many articles like those so far still fit: the median of the whole ones.
 * @param {number[]} articlesS
 * @param {number} readS
 * @param {number} toReadS
 */
function itemsLeft(articlesS, readS, toReadS) {
  const begun = articlesS.filter((placeS) => placeS <= readS);
  const lengths = begun.slice(1).map((placeS, index) => placeS - /** @type {number} */ (begun[index]));
  const whole = lengths.filter((lengthS) => lengthS >= ARTICLE_S_MIN).sort((a, b) => a - b);
  if (whole.length === 0) return null;
  const half = whole.length >> 1;
  const median =
    whole.length % 2 === 1
      ? /** @type {number} */ (whole[half])
      : (/** @type {number} */ (whole[half - 1]) + /** @type {number} */ (whole[half])) / 2;
  return Math.floor(toReadS / median + 0.25);
}

/**
 * @param {number} part
 * @param {number} whole
 */
function share(part, whole) {
  return whole > 0 ? Math.min(1, Math.max(0, part / whole)) : 1;
}
