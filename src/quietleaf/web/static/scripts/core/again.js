// Again: where the reader goes back to, what leaves the programme for it, and what is played before.
//
// Pure: places in, places and entries out. Takes are numbered as this page rolled them, 1, 2, 3; a
// place is a take and a sample of it, and places compare in programme order. The state is changed in
// place. What is said here is said to the journal by its owner, in the order of the sound.

import { isBefore, lastOf, samplesOf, without } from "./places.js";
import { LIKELY } from "./sentence_model.js";

/** @typedef {import("./places.js").At} At */
/** @typedef {import("./places.js").Range} Range */

/**
 * A sentence start.
 * @typedef {object} Start
 * @property {At} from where the pause before it begins
 * @property {At} place in that pause
 * @property {At} onset where its first word begins
 * @property {number} likelihood 0 to 1
 */

/**
 * What the journal is told; `take` and `backTake` as this page counts.
 * @typedef {object} AgainEntry
 * @property {"again"} what
 * @property {number} take
 * @property {number} mark
 * @property {number} backTake
 * @property {number} backSample
 * @property {number} resume
 * @property {number} leadIn samples
 * @property {number | null} instead index of the entry that this one takes the place of
 */

/**
 * One wish to go back.
 * @typedef {object} Wish
 * @property {At} mark the press; always in the take that goes on, since a hold ends a lead-in
 * @property {At} back
 * @property {At} resume
 * @property {number} leadIn samples that are played
 * @property {number} entry index in the journal
 * @property {boolean} isBack whether it was taken back
 */

/**
 * @typedef {object} AgainState
 * @property {number} rate
 * @property {number} leadInSamples
 * @property {number} beforeSamples so much of what comes before all of this can be played elsewhere
 * @property {number} firstTake the earliest that can be gone back into; 0 before there is one
 * @property {number[]} takes lengths so far, by number
 * @property {Start[]} starts in order
 * @property {Wish[]} wishes those that stand
 * @property {boolean} isLeading a lead-in is playing
 */

/** Nobody presses sooner after the slip: a sentence begun later than this is not the one that is meant. */
export const REACTION_S = 0.6;
/** Sentences are seldom longer: where no start in so much is likely, the likeliest that may be one is. */
const SENTENCE_S = 20;
const MAY_BE = 0.25;
/** Who goes further back found no sentence start: now it is to be a surer one, if there is one near. */
const SURE = 0.9;
/** So much may have been read since, and the old sentence can still be had back. */
export const UNDO_S = 30;
/** Between where the programme went on and the first words there is no more: nothing was read in it. */
const SCRAP_S = 0.4;
/** A picked place belongs to words that begin this near, also a little after it. */
const PICKED_S = 0.3;
const STARTS_KEPT = 400;

/**
 * @param {number} rate samples a second
 * @param {number} leadInS
 * @param {number} beforeS so much of what comes before all of this can be played from elsewhere
 * @returns {AgainState}
 */
export function startAgain(rate, leadInS, beforeS = 0) {
  return {
    rate,
    leadInSamples: Math.round(leadInS * rate),
    beforeSamples: Math.round(beforeS * rate),
    firstTake: 0,
    takes: [],
    starts: [],
    wishes: [],
    isLeading: false,
  };
}

/**
 * How long a take is by now; a new number begins it. While a lead-in plays the programme stands still.
 * @param {AgainState} state
 * @param {number} take
 * @param {number} samples
 */
export function againHeard(state, take, samples) {
  if (state.firstTake === 0) state.firstTake = take;
  state.takes[take] = samples;
  const last = state.wishes.at(-1);
  if (state.isLeading && last !== undefined) last.resume = { take, sample: samples };
}

/**
 * @param {AgainState} state
 * @param {Start} start
 */
export function againStart(state, start) {
  const last = state.starts.at(-1);
  if (last !== undefined && !isBefore(last.place, start.place)) return;
  state.starts.push(start);
  if (state.starts.length > STARTS_KEPT) state.starts.shift();
}

/**
 * The reader pressed: back to the start of the sentence that the slip is in, or of a picked place;
 * while a lead-in is playing, one sentence further back than before.
 * @param {AgainState} state
 * @param {At} now
 * @param {object} [how]
 * @param {At | null} [how.picked]
 * @param {At} [how.soundFrom] what is older cannot be played any more
 * @returns {{entry: AgainEntry, leadIn: Range[], before: number, further: boolean, known: boolean}}
 *   before: samples that are played before `leadIn`, from elsewhere; known: all of the lead-in can
 *   be played
 */
export function pressAgain(state, now, { picked = null, soundFrom = veryStart(state) } = {}) {
  const before = state.isLeading ? (state.wishes.pop() ?? null) : null;
  const back = picked
    ? startNear(state, picked)
    : before === null
      ? startBefore(state, now, REACTION_S * state.rate, LIKELY)
      : startBefore(state, before.back, 1, SURE);
  const further = before !== null && picked === null && isBefore(back, before.back);
  const mark = before?.mark ?? now;
  const all = lastOf(programmeBetween(state, veryStart(state), back), state.leadInSamples);
  const leadIn = all.flatMap((range) => without(range, veryStart(state), soundFrom));
  const known = samplesOf(leadIn) === samplesOf(all);
  const earlier = Math.min(state.beforeSamples, state.leadInSamples - samplesOf(all));
  const samples = samplesOf(leadIn) + (known ? earlier : 0);
  state.isLeading = true;
  return {
    entry: wish(state, { mark, back, resume: now, leadIn: samples, instead: before?.entry ?? null }),
    leadIn,
    before: known ? earlier : 0,
    further,
    known,
  };
}

/**
 * The lead-in has ended: the programme goes on here.
 * @param {AgainState} state
 * @param {At} now
 * @returns {AgainEntry | null} null where none was playing
 */
export function againLed(state, now) {
  if (!state.isLeading) return null;
  state.isLeading = false;
  const { entry, ...old } = /** @type {Wish} */ (state.wishes.pop());
  return wish(state, { ...old, resume: now, instead: entry });
}

/**
 * Say whether the old sentence can be had back.
 * @param {AgainState} state
 * @param {At} now
 */
export function canUndo(state, now) {
  const last = state.wishes.at(-1);
  if (last === undefined || last.isBack) return false;
  return state.isLeading || spokenBetween(state, last.resume, now) <= UNDO_S * state.rate;
}

/**
 * The old sentence is wanted back: what was heard since the press leaves the programme instead.
 * @param {AgainState} state
 * @param {At} now
 * @returns {AgainEntry | null} null where nothing can be had back
 */
export function undoAgain(state, now) {
  if (!canUndo(state, now)) return null;
  state.isLeading = false;
  const { mark, entry } = /** @type {Wish} */ (state.wishes.pop());
  return wish(state, { mark: now, back: mark, resume: now, leadIn: 0, instead: entry }, true);
}

/**
 * Nothing of all this is wanted: the programme would begin here.
 * @param {AgainState} state
 * @param {At} now
 * @returns {AgainEntry}
 */
export function dropAll(state, now) {
  const before = state.isLeading ? (state.wishes.pop() ?? null) : null;
  state.isLeading = false;
  const instead = before?.entry ?? null;
  return wish(state, { mark: now, back: veryStart(state), resume: now, leadIn: 0, instead });
}

/**
 * The journal has the entry that was given last, under this index.
 * @param {AgainState} state
 * @param {number} index
 */
export function againWritten(state, index) {
  const last = state.wishes.at(-1);
  if (last !== undefined) last.entry = index;
}

/**
 * Give what is left of the programme between two places.
 * @param {AgainState} state
 * @param {At} from
 * @param {At} to
 * @returns {Range[]} each inside one take
 */
export function programmeBetween(state, from, to) {
  /** @type {Range[]} */
  let kept = [];
  for (let take = from.take; take <= to.take; take += 1) {
    const start = take === from.take ? from.sample : 0;
    const stop = take === to.take ? to.sample : (state.takes[take] ?? 0);
    if (start < stop) kept.push({ from: { take, sample: start }, to: { take, sample: stop } });
  }
  for (const { back, resume } of state.wishes) {
    kept = kept.flatMap((range) => without(range, back, resume));
  }
  return kept;
}

/**
 * Give what has left the programme.
 * @param {AgainState} state
 * @returns {Range[]}
 */
export function outsideOf(state) {
  return state.wishes.map(({ back, resume }) => ({ from: back, to: resume }));
}

/**
 * How much of the programme there is, in samples.
 * @param {AgainState} state
 */
export function programmeSamples(state) {
  const take = state.takes.length - 1;
  return spokenBetween(state, veryStart(state), { take, sample: state.takes[take] ?? 0 });
}

/**
 * @param {AgainState} state
 * @param {{mark: At, back: At, resume: At, leadIn: number, instead: number | null}} asked
 * @returns {AgainEntry}
 */
function wish(state, { mark, back, resume, leadIn, instead }, isBack = false) {
  state.wishes.push({ mark, back, resume, leadIn, entry: -1, isBack });
  return {
    what: "again",
    take: resume.take,
    mark: mark.sample,
    backTake: back.take,
    backSample: back.sample,
    resume: resume.sample,
    leadIn,
    instead,
  };
}

/**
 * Give the last likely sentence start in the programme that lies so far before a place; the very
 * beginning where there is none.
 * @param {AgainState} state
 * @param {At} place
 * @param {number} samples spoken between its first word and the place, at least
 * @param {number} wanted so likely it is to be; less where none is near
 * @returns {At}
 */
function startBefore(state, place, samples, wanted) {
  /** @type {Start | null} */
  let best = null;
  for (let index = state.starts.length - 1; index >= 0; index -= 1) {
    const start = /** @type {Start} */ (state.starts[index]);
    if (start.likelihood < MAY_BE || !isBefore(start.place, place)) continue;
    if (!isIn(state, start.place) || isReadOn(state, start)) continue;
    const spoken = spokenBetween(state, start.onset, place);
    if (spoken < samples) continue;
    if (best !== null && spoken > SENTENCE_S * state.rate) break;
    if (start.likelihood >= wanted) return placeOf(state, start);
    // The nearest likely one; where there is none, the likeliest.
    const { likelihood } = best ?? { likelihood: 0 };
    if (likelihood < LIKELY && start.likelihood > likelihood) best = start;
  }
  return best === null ? beginning(state, place) : placeOf(state, best);
}

/**
 * Say whether a start is where somebody who took back read on: in the middle of a sentence, after a
 * pause that says nothing.
 * @param {AgainState} state
 * @param {Start} start
 */
function isReadOn(state, start) {
  return state.wishes.some((one) => one.isBack && isFirstAfter(state, one, start));
}

/**
 * Give the sentence start that a picked place belongs to, likely or not: the reader chose it.
 * @param {AgainState} state
 * @param {At} picked
 * @returns {At}
 */
function startNear(state, picked) {
  /** @type {Start | null} */
  let chosen = null;
  for (const start of state.starts.filter(({ place }) => isIn(state, place))) {
    const { onset } = start;
    const before = chosen?.onset.take === picked.take ? picked.sample - chosen.onset.sample : Infinity;
    const after = onset.take === picked.take ? onset.sample - picked.sample : Infinity;
    const isNear = after <= PICKED_S * state.rate && after < before;
    if (!isBefore(picked, onset) || isNear) chosen = start;
  }
  return chosen === null ? beginning(state, picked) : placeOf(state, chosen);
}

/**
 * Give where the programme leaves off for a start. One that was read again is left where its first
 * reading was: there is one join, however often it is read.
 * @param {AgainState} state
 * @param {Start} start
 */
function placeOf(state, start) {
  const read = state.wishes.find((one) => !one.isBack && isFirstAfter(state, one, start));
  return read?.back ?? start.place;
}

/**
 * Say whether a start is that of the first words where the programme went on.
 * @param {AgainState} state
 * @param {Wish} wish
 * @param {Start} start
 */
function isFirstAfter(state, { resume }, { from, place }) {
  if (isBefore(place, resume)) return false;
  return !isBefore(resume, from) || spokenBetween(state, resume, from) <= SCRAP_S * state.rate;
}

/**
 * Give the first sentence start, if it is no later than a place.
 * @param {AgainState} state
 * @param {At} place
 * @returns {At}
 */
function beginning(state, place) {
  const first = state.starts.find((start) => isIn(state, start.place));
  return first === undefined || isBefore(place, first.place) ? veryStart(state) : placeOf(state, first);
}

/** @param {AgainState} state */
function veryStart(state) {
  return { take: state.firstTake, sample: 0 };
}

/**
 * @param {AgainState} state
 * @param {At} place
 */
function isIn(state, place) {
  return state.wishes.every(({ back, resume }) => !(isBefore(back, place) && isBefore(place, resume)));
}

/**
 * @param {AgainState} state
 * @param {At} from
 * @param {At} to
 */
function spokenBetween(state, from, to) {
  return samplesOf(programmeBetween(state, from, to));
}
