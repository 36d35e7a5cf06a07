// Where things are in what is heard: which sentence sounds, which comes before and after, and which
// thing to hear is next. Pure: the page knows the places, times are seconds.

/**
 * What a piece of the page stands for: `startS` is where its sentence is played from.
 *
 * @typedef {{startS: number, fromS: number, toS: number}} Piece
 */

/** One goes back beyond the sentence that has only just begun. */
const JUST_BEGUN_S = 1;

/**
 * The index of the piece that sounds at a time; -1 before the first.
 *
 * @param {readonly Piece[]} pieces In order.
 * @param {number} atS
 */
export function pieceAt(pieces, atS) {
  return pieces.findLastIndex(({ startS, fromS }) => Math.min(startS, fromS) <= atS);
}

/**
 * Where the sentence before begins; of one that sounds for a while, that one.
 *
 * @param {readonly Piece[]} pieces
 * @param {number} atS
 */
export function sentenceBack(pieces, atS) {
  return pieces.findLast(({ startS }) => startS < atS - JUST_BEGUN_S)?.startS ?? 0;
}

/**
 * Where the next sentence begins; null after the last one.
 *
 * @param {readonly Piece[]} pieces
 * @param {number} atS
 */
export function sentenceOn(pieces, atS) {
  return pieces.find(({ startS }) => startS > atS + 0.05)?.startS ?? null;
}

/**
 * The next of some things in a direction, from one on or from the beginning; after the last comes
 * the first again.
 *
 * @template T
 * @param {readonly T[]} things
 * @param {T | null} from
 * @param {1 | -1} step
 * @param {(thing: T) => boolean} counts
 * @returns {T | null}
 */
export function nextThing(things, from, step, counts = () => true) {
  const here = from === null ? -1 : things.indexOf(from);
  const begin = here < 0 && step < 0 ? things.length : here;
  for (let away = 1; away <= things.length; away += 1) {
    const thing = things.at((begin + step * away) % things.length);
    if (thing !== undefined && thing !== from && counts(thing)) return thing;
  }
  return null;
}

/**
 * The speed before or after one.
 *
 * @param {readonly string[]} speeds
 * @param {string} now
 * @param {1 | -1} step
 */
export function speedBeside(speeds, now, step) {
  const index = speeds.indexOf(now) + step;
  return speeds[Math.min(Math.max(index, 0), speeds.length - 1)] ?? now;
}

/**
 * A time as people say it: 3:12, 1:02:03.
 *
 * @param {number} timeS
 */
export function clockOf(timeS) {
  const whole = Math.floor(timeS);
  const two = (/** @type {number} */ count) => String(count).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  return hours > 0
    ? `${hours}:${two(minutes)}:${two(whole % 60)}`
    : `${minutes}:${two(whole % 60)}`;
}
