// What of the reading has left the programme, and what became of the marks in it. Pure; seconds of
// the clock that runs while rolling.

/** @typedef {{startS: number, stopS: number}} Stretch Half-open. */
/** @typedef {import("./live.js").Run} Run */
/** @typedef {import("./standing.js").Which} Which */

/** The recorder tells what left the programme in so much time; what is older stays as it was. */
const TOLD_S = 30;
/** Where less was spoken between two places, they belong to the same words. */
const A_WORD_S = 0.4;

/** What became of what was read on this page. */
export class Programme {
  /** @type {Stretch[]} */ #outside = [];
  /** @type {Stretch[]} */ #edges = [];
  /** @type {number[]} */ #articlesS = [];
  /** @type {Partial<Record<Which, number>>} */ #wordsS = {};

  /** What has left it through what was taken again. */
  get outside() {
    return this.#outside;
  }

  /** Where in it each article begins. */
  get articlesS() {
    return articlesIn(this.#articlesS, this.#outside);
  }

  /** How much of it goes with the edges of takes, beside what is outside anyway. */
  get trimmedS() {
    const gone = merged(this.#outside);
    return this.#edges.reduce(
      (sum, edge) => sum + edge.stopS - edge.startS - overlapS(edge, gone),
      0,
    );
  }

  /**
   * @param {readonly Stretch[]} told What left it in the last half minute.
   * @param {number} rolledS
   */
  hear(told, rolledS) {
    this.#outside = outsideAfter(this.#outside, told, rolledS);
  }

  /** @param {readonly Stretch[]} edges */
  trim(edges) {
    this.#edges.push(...edges);
  }

  /** @param {number} placeS */
  markArticle(placeS) {
    this.#articlesS.push(placeS);
  }

  /** @param {Which} which @param {number} placeS */
  markWords(which, placeS) {
    this.#wordsS[which] = placeS;
  }

  /**
   * Whether an article begins in what is read from a place on, later than there.
   *
   * @param {number} backS
   * @param {readonly Run[]} runs
   */
  hasArticleAfter(backS, runs) {
    return this.#articlesS.some((markS) => spokenS(runs, backS, markS) > A_WORD_S);
  }

  /**
   * Which fixed words do.
   *
   * @param {number} backS
   * @param {readonly Run[]} runs
   */
  wordsAfter(backS, runs) {
    const which = /** @type {const} */ (["opening", "closing"]);
    return which.filter((one) => spokenS(runs, backS, this.#wordsS[one] ?? backS) > A_WORD_S);
  }
}

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
 * @param {readonly Run[]} runs
 * @param {number} fromS
 * @param {number} toS
 */
function spokenS(runs, fromS, toS) {
  return runs.reduce(
    (sum, { startS, stopS }) =>
      sum + Math.max(0, Math.min(toS, stopS ?? toS) - Math.max(fromS, startS)),
    0,
  );
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
