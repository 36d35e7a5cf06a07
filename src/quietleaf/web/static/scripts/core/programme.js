// What of the reading has left the programme, and what became of the marks in it. Pure; seconds of
// the clock that runs while rolling.

/** @typedef {{startS: number, stopS: number}} Stretch Half-open. */

/** The recorder tells what left the programme in so much time; what is older stays as it was. */
const TOLD_S = 30;

/**
 * What has left the programme, after the recorder told of the last half minute.
 *
 * @param {readonly Stretch[]} known
 * @param {readonly Stretch[]} told
 * @param {number} rolledS
 * @returns {Stretch[]}
 */
export function outsideAfter(known, told, rolledS) {
  return [...known.filter(({ stopS }) => stopS <= rolledS - TOLD_S), ...told];
}

/**
 * Where in the programme each article begins. A mark goes with its sentence to where that is read
 * again; where another mark follows, the article was marked anew there.
 *
 * @param {readonly number[]} marksS In order.
 * @param {readonly Stretch[]} outside
 * @returns {number[]} Seconds of the programme.
 */
export function articlesIn(marksS, outside) {
  const gone = merged(outside);
  /** @type {number[]} */
  const begin = [];
  for (const [index, markS] of marksS.entries()) {
    const left = gone.find(({ startS, stopS }) => startS <= markS && markS < stopS);
    if (left !== undefined && index < marksS.length - 1) continue;
    const thereS = left?.stopS ?? markS;
    begin.push(thereS - overlapS({ startS: 0, stopS: thereS }, gone));
  }
  return begin;
}

/**
 * Whether most of a stretch has left the programme.
 *
 * @param {Stretch} stretch
 * @param {readonly Stretch[]} outside
 */
export function isLeftOut(stretch, outside) {
  return overlapS(stretch, merged(outside)) > (stretch.stopS - stretch.startS) / 2;
}

/**
 * @param {Stretch} stretch
 * @param {readonly Stretch[]} apart Stretches that do not overlap.
 */
function overlapS({ startS, stopS }, apart) {
  return apart.reduce(
    (sum, other) => sum + Math.max(0, Math.min(stopS, other.stopS) - Math.max(startS, other.startS)),
    0,
  );
}

/**
 * @param {readonly Stretch[]} stretches
 * @returns {Stretch[]}
 */
function merged(stretches) {
  /** @type {Stretch[]} */
  const apart = [];
  for (const { startS, stopS } of stretches.toSorted((one, other) => one.startS - other.startS)) {
    const last = apart.at(-1);
    if (last !== undefined && startS <= last.stopS) last.stopS = Math.max(last.stopS, stopS);
    else apart.push({ startS, stopS });
  }
  return apart;
}
