// Sound that was never captured: found by the clock against the count of samples, and placed by the
// stamps of the blocks.
//
// A stamp alone proves nothing (stamps jump while a device starts, with no sample missing), nor does
// a late block (it was queued). What stays late for two seconds is missing. Positions are counted in
// samples; a stamp is only ever used for how long a gap was.

/** Of the first seconds stamps are not believed. */
const STAMPS_S = 3;
const WINDOW_S = 1;
const JUMP_MS = 15;
/** Stamp and clock agree to so much. */
const AGREE_MS = 80;
/** Without a stamp that says so, less is taken for a block that came late. */
const LEAST_MS = 250;
const WAIT_MS = 100;
const PAUSED_MS = 500;
/** A clock on the wall that is put right moves by less than a sleep. */
const ASLEEP_MS = 3000;

/** @typedef {"paused" | "dropped" | "asleep"} Reason */

/**
 * @typedef {object} Gap
 * @property {number} at position it lies before, counted since listening began
 * @property {number} samples
 * @property {Reason} reason
 */

/**
 * A place where sound may be missing.
 * @typedef {object} Doubt
 * @property {number} at
 * @property {number} jumpMs by the stamps
 * @property {number} waitMs how long nothing came
 */

/**
 * @typedef {object} GapsState
 * @property {number} rate
 * @property {number} position
 * @property {number | null} nowMs when the last block came
 * @property {number} dateMs
 * @property {number | null} stampUs where the next block's stamp is expected
 * @property {number} windowFrom
 * @property {number} lagMs least lag in this window
 * @property {number} sinceMs least lag since the last doubt
 * @property {number | null} usualMs least lag when nothing was in doubt
 * @property {number | null} lateMs the same of the last window, if it was late
 * @property {Doubt[]} doubts
 */

/**
 * @param {number} rate
 * @returns {GapsState}
 */
export function startGaps(rate) {
  return {
    rate,
    position: 0,
    nowMs: null,
    dateMs: 0,
    stampUs: null,
    windowFrom: 0,
    lagMs: Infinity,
    sinceMs: Infinity,
    usualMs: null,
    lateMs: null,
    doubts: [],
  };
}

/**
 * Take note of a block. The state is changed in place.
 * @param {GapsState} state
 * @param {object} block
 * @param {number} block.samples
 * @param {number | null} block.stampUs null where there are no stamps
 * @param {number} block.nowMs of a clock that is never put right
 * @param {number} block.dateMs of a clock that goes on while a computer sleeps
 * @returns {Gap[]} what is certain now
 */
export function gapsStep(state, { samples, stampUs, nowMs, dateMs }) {
  const { rate, position } = state;
  /** @type {Gap[]} */
  const gaps = [];
  if (state.nowMs !== null) {
    const waitMs = nowMs - state.nowMs;
    const asleepMs = dateMs - state.dateMs - waitMs;
    if (asleepMs > ASLEEP_MS) gaps.push(gapOf(state, position, asleepMs, "asleep"));
    const expectedUs = position >= STAMPS_S * rate ? state.stampUs : null;
    let jumpMs = stampUs !== null && expectedUs !== null ? (stampUs - expectedUs) / 1000 : 0;
    // A stamp by a clock that went on during a sleep would count it twice.
    if (asleepMs > ASLEEP_MS && jumpMs > asleepMs - AGREE_MS) jumpMs -= asleepMs;
    if (jumpMs > JUMP_MS || waitMs > WAIT_MS) {
      state.doubts.push({ at: position, jumpMs, waitMs });
      state.sinceMs = Infinity;
    }
  }
  state.nowMs = nowMs;
  state.dateMs = dateMs;
  state.position += samples;
  state.stampUs = stampUs === null ? null : stampUs + (1e6 * samples) / rate;
  const lagMs = nowMs - (1000 * state.position) / rate;
  state.lagMs = Math.min(state.lagMs, lagMs);
  state.sinceMs = Math.min(state.sinceMs, lagMs);
  if (state.position - state.windowFrom >= WINDOW_S * rate) gaps.push(...endWindow(state));
  return gaps;
}

/**
 * Decide now what is in doubt, since the take ends: where stamps and clock both say it. What is late
 * without a stamp that says so may only be queued.
 * @param {GapsState} state
 * @returns {Gap[]}
 */
export function gapsDue(state) {
  const { usualMs, sinceMs } = state;
  if (usualMs === null || jumpedMs(state) === 0 || sinceMs === Infinity) return [];
  return found(state, sinceMs - usualMs);
}

/** @param {GapsState} state */
function endWindow(state) {
  const { lagMs, usualMs, lateMs } = state;
  /** @type {Gap[]} */
  let gaps = [];
  if (usualMs === null || lagMs - usualMs < lateFrom(state)) {
    // Two clocks drift apart by a little each second: the usual lag follows them.
    state.usualMs = lagMs;
    state.lateMs = null;
    // A window that a gap cuts in two is not late yet.
    state.doubts = state.doubts.filter(({ at }) => at >= state.windowFrom);
  } else if (lateMs === null) {
    state.lateMs = lagMs;
  } else {
    gaps = found(state, Math.min(lagMs, lateMs) - usualMs);
    if (gaps.length === 0) {
      state.usualMs = lagMs;
      state.lateMs = null;
      state.doubts = [];
    }
  }
  state.windowFrom = state.position;
  state.lagMs = Infinity;
  return gaps;
}

/**
 * From where on a lag means that something is missing: lower, where stamps say how much it would be.
 * @param {GapsState} state
 */
function lateFrom(state) {
  const stampedMs = jumpedMs(state);
  return stampedMs > 0 ? Math.min(AGREE_MS, 0.6 * stampedMs) : AGREE_MS;
}

/** @param {GapsState} state */
function jumpedMs({ doubts }) {
  return doubts.reduce((sum, { jumpMs }) => sum + (jumpMs > JUMP_MS ? jumpMs : 0), 0);
}

/**
 * @param {GapsState} state
 * @param {number} lateMs by how much what comes is later than it was
 * @returns {Gap[]}
 */
function found(state, lateMs) {
  /** @type {Gap[]} */
  const gaps = [];
  const stampedMs = jumpedMs(state);
  if (stampedMs > 0 && lateMs >= lateFrom(state) && stampedMs <= lateMs + AGREE_MS) {
    for (const { at, jumpMs } of state.doubts) {
      if (jumpMs > JUMP_MS) gaps.push(gapOf(state, at, jumpMs, reasonOf(state)));
    }
  } else if (lateMs > LEAST_MS && state.doubts.length > 0) {
    const longest = state.doubts.reduce((a, b) => (b.waitMs > a.waitMs ? b : a));
    gaps.push(gapOf(state, longest.at, lateMs, reasonOf(state)));
  }
  if (gaps.length > 0) {
    state.usualMs = null;
    state.lateMs = null;
    state.doubts = [];
  }
  return gaps;
}

/**
 * @param {GapsState} state
 * @returns {Reason}
 */
function reasonOf({ doubts }) {
  return doubts.some(({ waitMs }) => waitMs > PAUSED_MS) ? "paused" : "dropped";
}

/**
 * @param {GapsState} state
 * @param {number} at
 * @param {number} ms
 * @param {Reason} reason
 * @returns {Gap}
 */
function gapOf({ rate }, at, ms, reason) {
  return { at, samples: Math.round((ms * rate) / 1000), reason };
}
