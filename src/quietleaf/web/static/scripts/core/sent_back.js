// The stand while sentences are read again that the desk sent back: one after the other, each from
// the start of its sentence, with what leads up to it. Pure, as core/standing.js, which asks here.

import { AGAIN_SENT, MAIN, SENT, STATE } from "../texts/stand.js";

/** @typedef {import("./standing.js").Standing} Standing */
/** @typedef {import("./standing.js").Command} Command */

/**
 * @typedef {object} SentBack Where one is in what the desk sent back.
 * @property {"sentence" | "place"} unit What each of them is called.
 * @property {readonly boolean[]} read Which have been read again.
 * @property {number} index The one before the reader.
 * @property {boolean} tried Whether it was read since it came before the reader.
 * @property {number} tries How often it was begun since then.
 */

/**
 * What the page opens with: at the first that is not read yet.
 *
 * @param {readonly boolean[]} read
 * @param {"sentence" | "place"} unit
 * @returns {SentBack | null} null where nothing was sent back
 */
export function begunSentBack(read, unit) {
  if (read.length === 0) return null;
  return { unit, read, index: Math.max(0, read.indexOf(false)), tried: false, tries: 0 };
}

/**
 * Another one comes before the reader.
 *
 * @param {SentBack} sentBack
 * @param {number} index
 * @returns {SentBack}
 */
export function movedTo(sentBack, index) {
  return { ...sentBack, index, tried: false, tries: 0 };
}

/**
 * It was held: what was read is read, unless something broke it off.
 *
 * @param {SentBack} sentBack
 * @param {boolean} broken
 * @returns {SentBack}
 */
export function heldIn(sentBack, broken) {
  if (broken) return { ...sentBack, tried: false };
  const { index, tried } = sentBack;
  return { ...sentBack, read: sentBack.read.map((was, at) => was || (tried && at === index)) };
}

/**
 * The next one that is not read yet; null where all are.
 *
 * @param {SentBack} sentBack
 */
export function nextUnread({ read, index }) {
  const order = [...read.keys()].map((away) => (index + 1 + away) % read.length);
  return order.find((other) => other !== index && !read[other]) ?? null;
}

/** @param {SentBack} sentBack */
export function following({ read, index }) {
  return (index + 1) % read.length;
}

/**
 * What a control asks for; undefined where it asks for the same as in any reading.
 *
 * @param {Standing} standing
 * @param {SentBack} sentBack
 * @param {import("./keys.js").Action} action
 * @returns {Command | null | undefined}
 */
export function askedSentBack(standing, sentBack, action) {
  const { phase } = standing;
  if (action === "article") return controlsSentBack(standing, sentBack).article ? "other-place" : null;
  if (action === "words") return null;
  if (action === "again" && phase === "held") return sentBack.tried ? "again" : null;
  if (action === "undo") return controlsSentBack(standing, sentBack).undo ? "undo" : null;
  if (action !== "main" || phase !== "held") return undefined;
  if (!sentBack.tried) return "begin-place";
  return nextUnread(sentBack) === null ? "leave" : "next-place";
}

/**
 * Which controls there are, in the places that the hand knows.
 *
 * @param {Standing} standing
 * @param {SentBack} sentBack
 */
export function controlsSentBack(standing, sentBack) {
  const held = standing.phase === "held";
  const rolling = standing.phase === "rolling";
  const leaves = sentBack.tried && nextUnread(sentBack) === null;
  return {
    again: rolling || (held && sentBack.tried),
    // The first time there is no sentence of this try to have back.
    undo: (rolling || held) && standing.canUndo && sentBack.tries > 1,
    article: held && sentBack.read.length > 1,
    words: null,
    hear: held,
    handIn: held && !leaves,
  };
}

/**
 * What stands on the main control while held.
 *
 * @param {SentBack} sentBack
 */
export function mainSentBack(sentBack) {
  if (!sentBack.tried) return MAIN.begin;
  return nextUnread(sentBack) === null ? SENT.handIn : SENT.next[sentBack.unit];
}

/**
 * @param {SentBack} sentBack
 * @returns {{sentence: string, more: string}}
 */
export function saidSentBack(sentBack) {
  const { index, read, tried, unit } = sentBack;
  if (tried) {
    const more = nextUnread(sentBack) === null ? SENT.allRead : SENT.isRead;
    return { sentence: STATE.heldAgain, more };
  }
  return {
    sentence: AGAIN_SENT(unit, index + 1, read.length),
    more: read[index] ? SENT.wasRead : SENT.how,
  };
}
