// Which channel the microphone is on: one is taken as it is, never a mix of both.

/** @typedef {import("../messages.js").Side} Side */

/** A channel so far below the other one carries what leaks into its input, and no microphone. */
const BELOW_DB = 12;
/** So long is listened before it is decided. */
const DECIDE_S = 2;

/**
 * @typedef {object} SidesState
 * @property {number} left sum of squares
 * @property {number} right
 * @property {number} count of samples
 */

/** @returns {SidesState} */
export function startSides() {
  return { left: 0, right: 0, count: 0 };
}

/**
 * Listen to a block of both channels. The state is changed in place and given back.
 * @param {SidesState} state
 * @param {readonly Float32Array[]} channels
 * @returns {SidesState}
 */
export function sidesStep(state, channels) {
  const [left, right] = channels;
  if (left === undefined) return state;
  state.left += power(left);
  state.right += right === undefined ? 0 : power(right);
  state.count += left.length;
  return state;
}

/**
 * Say which side has the microphone: the left one, unless the right one is clearly louder.
 * @param {SidesState} state
 * @returns {Side}
 */
export function sideOf({ left, right }) {
  return right > left * 10 ** (BELOW_DB / 10) ? "right" : "left";
}

/**
 * Say whether enough was heard to keep to one side.
 * @param {SidesState} state
 * @param {number} rate
 */
export function isDecided({ count }, rate) {
  return count >= DECIDE_S * rate;
}

/**
 * Give the channel of a side; the only one where there is one alone.
 * @param {readonly Float32Array[]} channels
 * @param {Side} side
 * @returns {Float32Array}
 */
export function channelOf(channels, side) {
  const wanted = side === "right" ? channels[1] : channels[0];
  return wanted ?? channels[0] ?? new Float32Array(0);
}

/** @param {Float32Array} samples */
function power(samples) {
  let sum = 0;
  for (const sample of samples) if (Number.isFinite(sample)) sum += sample * sample;
  return sum;
}
