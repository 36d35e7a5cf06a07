// Frames of 10 ms, levels in half decibels, and the filters before them: what hears the voice for the
// page and what finds its sentences count them alike.

/** @typedef {[b0: number, b1: number, b2: number, a1: number, a2: number]} Section */

export const FRAMES_PER_S = 100;
export const STEPS = 256;
const LOWEST_DBOV = -127.5;
const STEPS_A_DB = 2;

/**
 * Give the first sample of a frame, at any rate, as the station counts them.
 * @param {number} index
 * @param {number} rate
 */
export function frameStart(index, rate) {
  return Math.floor((2 * index * rate + FRAMES_PER_S) / (2 * FRAMES_PER_S));
}

/** @param {number} level */
export function stepOf(level) {
  return clamp(Math.floor(STEPS_A_DB * (level - LOWEST_DBOV) + 0.5), 0, STEPS - 1);
}

/** @param {number} step */
export function dbovOfStep(step) {
  return LOWEST_DBOV + step / STEPS_A_DB;
}

/**
 * Give the step under which a share of what was counted lies.
 * @param {Uint32Array | Int32Array} histogram of steps
 * @param {number} count of all in it
 * @param {number} share
 */
export function stepOfShare(histogram, count, share) {
  const wanted = count * share;
  let seen = 0;
  for (let step = 0; step < STEPS; step += 1) {
    seen += /** @type {number} */ (histogram[step]);
    if (seen > wanted) return step;
  }
  return STEPS - 1;
}

/**
 * @param {number} value
 * @param {number} least
 * @param {number} most
 */
export function clamp(value, least, most) {
  return Math.min(Math.max(value, least), most);
}

/**
 * Second-order Butterworth sections by the bilinear transform.
 * @param {number} hz
 * @param {number} rate
 * @returns {Section}
 */
export function highPass(hz, rate) {
  const k = Math.tan((Math.PI * hz) / rate);
  const norm = 1 / (1 + Math.SQRT2 * k + k * k);
  return [norm, -2 * norm, norm, 2 * (k * k - 1) * norm, (1 - Math.SQRT2 * k + k * k) * norm];
}

/**
 * @param {number} hz
 * @param {number} rate
 * @returns {Section}
 */
export function lowPass(hz, rate) {
  const k = Math.tan((Math.PI * hz) / rate);
  const norm = 1 / (1 + Math.SQRT2 * k + k * k);
  const gain = k * k * norm;
  return [gain, 2 * gain, gain, 2 * (k * k - 1) * norm, (1 - Math.SQRT2 * k + k * k) * norm];
}
