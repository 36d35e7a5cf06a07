// Frames for the sentence finder: where a voice is heard and where it rests, frame by frame.
//
// The same arithmetic as the station's (listening/sentence_frames.py), so that both find the same
// places. The state is changed in place.

import {
  clamp,
  dbovOfStep,
  frameStart,
  highPass,
  lowPass,
  stepOf,
  stepOfShare,
  STEPS,
} from "./frames.js";

/** Frames that are remembered: 20 s. */
export const RING = 2048;
const FLOOR_FRAMES = 1200;
const LOOK_FRAMES = 10;
const FLOOR_SHARE = 0.08;
const TOP_SHARE = 0.92;
const FLOOR_KNOWN_FRAMES = 60;
/** -42 dBov: somebody who speaks at once must not be taken for the room. */
const FLOOR_AT_FIRST_STEP = 171;

const SOUND_OVER_FLOOR_DB = 5;
const SOUND_UNDER_TOP_DB = 40;
const VOICE_OVER_FLOOR_SHARE = 0.38;
const VOICE_OVER_FLOOR_LEAST_DB = 6;
const VOICE_OVER_FLOOR_DB = 9;
const VOICE_UNDER_TOP_DB = 22;
/** A voice has its power below 500 Hz; breath and paper have not. */
const LOW_UNDER_DB = 12;
const QUIET_FRAMES = 6;
const VOICED_FRAMES = 4;
/** So long after its last voiced frame sound still belongs to a word. */
const TAIL_FRAMES = 30;
const VOICE_BAND_FROM_HZ = 80;
const LOW_BAND_TO_HZ = 500;
const TOO_SMALL = 1e-30;
const NOTHING = 1e-20;
const NOTHING_DBOV = -200;

/**
 * @typedef {object} Filters
 * @property {number} ha1
 * @property {number} ha2
 * @property {number} highGain
 * @property {number} gain
 * @property {number} la1
 * @property {number} la2
 */

/** @typedef {[x1: number, x2: number, h1: number, h2: number, l1: number, l2: number]} Memory */

/**
 * @typedef {object} FramesState
 * @property {number} rate
 * @property {Filters} filters
 * @property {Memory} memory of the filters
 * @property {number} position samples heard
 * @property {number} frameBegin where the unfinished frame begins
 * @property {number} frameStop
 * @property {number} highSum of the unfinished frame
 * @property {number} lowSum
 * @property {Float64Array} power mean squares above 80 Hz of the last frames
 * @property {Float64Array} low the same between 80 and 500 Hz
 * @property {Uint8Array} steps smoothed levels in half decibels
 * @property {Int32Array} histogram of the last 12 s
 * @property {number} frame whole frames heard
 * @property {number} count frames in the histogram
 * @property {number} floorStep
 * @property {number} topStep
 * @property {number} runStart where the present run of sound began; -1 if there is none
 * @property {number} lastSound
 * @property {number} voiced frames of the run that have a voice
 * @property {number} firstVoiced
 * @property {number} lastVoiced
 * @property {boolean} isSpeech
 * @property {number} speechStop where the speech before ended; 0 if there was none
 */

/**
 * @param {number} rate samples a second
 * @returns {FramesState}
 */
export function startFrames(rate) {
  return {
    rate,
    filters: filtersFor(rate),
    memory: [0, 0, 0, 0, 0, 0],
    position: 0,
    frameBegin: 0,
    frameStop: frameStart(1, rate),
    highSum: 0,
    lowSum: 0,
    power: new Float64Array(RING),
    low: new Float64Array(RING),
    steps: new Uint8Array(RING),
    histogram: new Int32Array(STEPS),
    frame: 0,
    count: 0,
    floorStep: FLOOR_AT_FIRST_STEP,
    topStep: 0,
    runStart: -1,
    lastSound: -1,
    voiced: 0,
    firstVoiced: 0,
    lastVoiced: 0,
    isSpeech: false,
    speechStop: 0,
  };
}

/**
 * Hear a block up to its end or up to the end of a frame with which a pause is over.
 * @param {FramesState} state
 * @param {Float32Array} samples
 * @param {number} from where in the block to begin
 * @returns {{place: number, began: boolean}} how far it came, and whether speech has begun
 */
export function framesStep(state, samples, from) {
  const { ha1, ha2, highGain, gain, la1, la2 } = state.filters;
  let place = from;
  while (place < samples.length) {
    const stop = Math.min(samples.length, place + state.frameStop - state.position);
    let [x1, x2, h1, h2, l1, l2] = state.memory;
    let { highSum, lowSum } = state;
    state.position += stop - place;
    for (; place < stop; place += 1) {
      const x = /** @type {number} */ (samples[place]);
      const h = x - (x1 + x1) + x2 - ha2 * h2 - ha1 * h1;
      const low = gain * (h + (h1 + h1) + h2) - la2 * l2 - la1 * l1;
      x2 = x1;
      x1 = x;
      h2 = h1;
      h1 = h;
      l2 = l1;
      l1 = low;
      highSum += h * h;
      lowSum += low * low;
    }
    const isDone = state.position === state.frameStop;
    const isNothing = Math.abs(h1) + Math.abs(h2) + Math.abs(l1) + Math.abs(l2) < TOO_SMALL;
    state.memory = isDone && isNothing ? [x1, x2, 0, 0, 0, 0] : [x1, x2, h1, h2, l1, l2];
    state.highSum = highSum;
    state.lowSum = lowSum;
    if (!isDone) break;
    const scale = (highGain * highGain) / (state.frameStop - state.frameBegin);
    state.frameBegin = state.frameStop;
    state.frameStop = frameStart(state.frame + 2, state.rate);
    state.highSum = 0;
    state.lowSum = 0;
    if (follow(state, highSum * scale, lowSum * scale)) return { place, began: true };
  }
  return { place, began: false };
}

/**
 * Take a frame in.
 * @param {FramesState} state
 * @param {number} power
 * @param {number} low
 * @returns {boolean} whether a pause is over: the run of sound after it has had four voiced frames
 */
function follow(state, power, low) {
  const { frame, histogram, steps } = state;
  const here = frame % RING;
  state.power[here] = power;
  state.low[here] = low;
  const level = dbov(smoothed(state.power, frame));
  const step = stepOf(level);
  const old = frame >= FLOOR_FRAMES ? at(steps, frame - FLOOR_FRAMES) : 0;
  if (old > 0) {
    histogram[old] = /** @type {number} */ (histogram[old]) - 1;
    state.count -= 1;
  }
  steps[here] = step;
  if (step > 0) {
    histogram[step] = /** @type {number} */ (histogram[step]) + 1;
    state.count += 1;
  }
  if (frame % LOOK_FRAMES === 0 && state.count > 0) look(state);
  state.frame += 1;

  const floor = dbovOfStep(state.floorStep);
  const top = dbovOfStep(state.topStep);
  if (level > floor + SOUND_OVER_FLOOR_DB && level > top - SOUND_UNDER_TOP_DB) {
    if (state.runStart < 0) {
      state.runStart = frame;
      state.voiced = 0;
    }
    state.lastSound = frame;
    const share = VOICE_OVER_FLOOR_SHARE * (top - floor);
    const over = clamp(share, VOICE_OVER_FLOOR_LEAST_DB, VOICE_OVER_FLOOR_DB);
    const isLoud = level > floor + over && level > top - VOICE_UNDER_TOP_DB;
    if (isLoud && dbov(smoothed(state.low, frame)) > level - LOW_UNDER_DB) return voice(state, frame);
  } else if (state.runStart >= 0 && frame - state.lastSound >= QUIET_FRAMES) {
    if (state.isSpeech) {
      state.speechStop = Math.min(state.lastSound, state.lastVoiced + TAIL_FRAMES) + 1;
    }
    state.runStart = -1;
    state.isSpeech = false;
  }
  return false;
}

/**
 * @param {FramesState} state
 * @param {number} frame
 */
function voice(state, frame) {
  if (state.voiced === 0) state.firstVoiced = frame;
  state.voiced += 1;
  state.lastVoiced = frame;
  if (state.isSpeech || state.voiced < VOICED_FRAMES) return false;
  state.isSpeech = true;
  return true;
}

/** @param {FramesState} state */
function look(state) {
  const floor = stepOfShare(state.histogram, state.count, FLOOR_SHARE);
  const isKnown = state.count >= FLOOR_KNOWN_FRAMES;
  state.floorStep = isKnown ? floor : Math.min(floor, FLOOR_AT_FIRST_STEP);
  state.topStep = stepOfShare(state.histogram, state.count, TOP_SHARE);
}

/**
 * The mean of a frame and the two before it.
 * @param {Float64Array} powers
 * @param {number} frame
 */
function smoothed(powers, frame) {
  if (frame < 2) return at(powers, frame);
  return (at(powers, frame) + at(powers, frame - 1) + at(powers, frame - 2)) / 3;
}

/**
 * What was said of a frame that is remembered.
 * @param {Float64Array | Uint8Array} ring
 * @param {number} frame
 */
export function at(ring, frame) {
  return /** @type {number} */ (ring[frame % RING]);
}

/** @param {number} power */
export function dbov(power) {
  return power > NOTHING ? 10 * Math.log10(power) : NOTHING_DBOV;
}

/**
 * An 80 Hz high-pass and a 500 Hz low-pass: Butterworth of second order by the bilinear transform.
 * @param {number} rate
 * @returns {Filters}
 */
function filtersFor(rate) {
  const [, , , ha1, ha2] = highPass(VOICE_BAND_FROM_HZ, rate);
  const [gain, , , la1, la2] = lowPass(LOW_BAND_TO_HZ, rate);
  return { ha1, ha2, highGain: (1 - ha1 + ha2) / 4, gain, la1, la2 };
}
