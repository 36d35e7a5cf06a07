// Hears while sound comes in, block by block: how loud, whether somebody speaks, the runs of speech.
//
// Pure arithmetic: the same answers however the sound is cut into blocks. For speed the state is
// changed in place and handed back. Levels are relative to RMS 1.0 (dBov); digital silence is
// -Infinity. A voice is told from paper, keys and chairs by level over a floor that follows the
// room, and by repeating itself at the pitch of a voice: level alone never makes a run.

import {
  clamp,
  dbovOfStep,
  FRAMES_PER_S,
  frameStart,
  highPass,
  lowPass,
  stepOf,
  stepOfShare,
  STEPS,
} from "./frames.js";

/** @typedef {import("./frames.js").Section} Section */

/**
 * A run of speech, up to a pause of 0.35 s.
 * @typedef {object} Run
 * @property {number} startS seconds on the clock that runs while rolling (as `secondsRolled`)
 * @property {number | null} stopS null while it goes on
 * @property {number} take
 * @property {number} startSample in samples of its take
 * @property {number | null} stopSample half-open; null while it goes on
 */

/**
 * @typedef {object} LiveSnapshot
 * @property {number} levelDbov of the last 0.1 s, above 20 Hz
 * @property {number} peak greatest absolute sample of the last second
 * @property {number} clipped flat tops at full scale in the last 5 s
 * @property {boolean} speaking
 * @property {number | null} floorDbov the room of the last 12 s; null while nothing was heard of it
 * @property {number | null} voiceDbov active speech level of the last 10 s; null under 0.5 s of it
 * @property {boolean} rolling
 * @property {number} secondsRolled all takes together
 * @property {number} silentS how long no voice was heard in this take; 0 while held
 * @property {number | null} wordRateHint words a minute, within a fifth or so; null under 20 s
 * @property {Run[]} runs those of the last half minute of the rolling clock
 */

/**
 * @typedef {object} LiveState
 * @property {number} rate
 * @property {number} position samples heard
 * @property {number} frame frames of 10 ms heard
 * @property {number} frameStop where the present frame ends
 * @property {Section[]} sections
 * @property {Float64Array} memory of the filters
 * @property {number} powerFull sums of the unfinished frame
 * @property {number} powerVoice
 * @property {number} powerMiddle
 * @property {number} peakNow
 * @property {number} flatNow
 * @property {number} flatRun
 * @property {number} flatValue
 * @property {number} decimate
 * @property {number} decimated how many samples of the slow signal there are
 * @property {number} slowSum
 * @property {number} slowCount
 * @property {Float64Array} slow
 * @property {Float64Array} window
 * @property {Float64Array} full powers of the last frames, above 20 Hz
 * @property {Float64Array} voice powers of the last frames, above 80 Hz
 * @property {Float64Array} middle powers of the last frames, 300 to 3000 Hz
 * @property {Float64Array} peaks
 * @property {Uint16Array} flats
 * @property {Uint8Array} steps smoothed levels of the last frames, half decibels
 * @property {Uint8Array} active whether the frame is active speech
 * @property {Uint8Array} alike whether the frame repeats itself
 * @property {Uint32Array} histogram of `steps`
 * @property {number} stepsCount
 * @property {number} floorStep
 * @property {number} topStep
 * @property {number} loudStart frame at which the present loud stretch began; -1 if there is none
 * @property {number} lastLoud
 * @property {number} lastVoiced
 * @property {number} clusterStart
 * @property {number} clusterVoiced
 * @property {boolean} speaking
 * @property {number} speechStart frame
 * @property {number} lastSpoken frame
 * @property {number} lastHeard sample up to which a voice was heard in this take
 * @property {boolean} rolling
 * @property {number} take
 * @property {number} takeStart
 * @property {number} rolledBefore
 * @property {number} nextTake
 * @property {number} nextHeard
 * @property {Run[]} runs
 * @property {Run | null} open
 * @property {number[]} nuclei places on the rolling clock, seconds
 * @property {number} nucleusPeak
 * @property {number} nucleusDip
 * @property {number} nucleusFrame
 * @property {number} nucleusAlike
 */

const RING = 1500;
const FLOOR_FRAMES = 1200;
const LOOK_FRAMES = 10;

const FLOOR_SHARE = 0.08;
const TOP_SHARE = 0.92;
const OVER_FLOOR_DB = 9;
const OVER_FLOOR_LEAST_DB = 6;
const OVER_FLOOR_SHARE = 0.38;
const UNDER_TOP_DB = 24;
const EDGE_OVER_FLOOR_DB = 4;
const EDGE_UNDER_TOP_DB = 34;
const FLOOR_AT_FIRST_DBOV = -55;
const FLOOR_KNOWN_FRAMES = 60;

const ALIKE = 0.6;
const ALIKE_WINDOW_S = 0.04;
const PITCH_HZ_MIN = 70;
const PITCH_HZ_MAX = 400;
const SLOW_HZ = 8000;
const MIDDLE_UNDER_DB = 15;

/** A cluster of voiced frames this long makes a voice; paper and keys have less in one place. */
const VOICED_FRAMES = 8;
const CLUSTER_GAP_FRAMES = 15;
/** So much sound before the first voiced frame belongs to the word: a consonant. */
const LEAD_FRAMES = 25;
/** So much sound after the last voiced frame does. */
const TAIL_FRAMES = 30;
const PAUSE_FRAMES = 35;
const HANGOVER_FRAMES = 20;

const CLIP_LEVEL = 0.98;
const CLIP_SAMPLES = 3;
const CLIP_SPREAD = 1.5 / 32768;
const TOO_SMALL = 1e-30;

const KEPT_S = 30;
const VOICE_FRAMES = 1000;
const VOICE_FRAMES_MIN = 50;
const CLIP_FRAMES = 500;
const RATE_S = 60;
const RATE_S_MIN = 20;
const NUCLEI_A_WORD = 1.42;
const NUCLEUS_DIP_DB = 1.5;
const NUCLEUS_UNDER_TOP_DB = 25;
const HANN = [0.0245, 0.0955, 0.2061, 0.3455, 0.5, 0.3455, 0.2061, 0.0955, 0.0245];
const HANN_SUM = HANN.reduce((sum, weight) => sum + weight, 0);

/**
 * Begin to hear.
 * @param {number} rate samples a second
 * @returns {LiveState}
 */
export function startLive(rate) {
  const decimate = Math.max(1, Math.floor(rate / SLOW_HZ));
  const window = Math.round((ALIKE_WINDOW_S * rate) / decimate);
  return {
    rate,
    position: 0,
    frame: 0,
    frameStop: frameStart(1, rate),
    sections: [
      highPass(20, rate),
      highPass(80, rate),
      highPass(300, rate),
      lowPass(Math.min(3000, 0.45 * rate), rate),
    ],
    memory: new Float64Array(8),
    powerFull: 0,
    powerVoice: 0,
    powerMiddle: 0,
    peakNow: 0,
    flatNow: 0,
    flatRun: 0,
    flatValue: 0,
    decimate,
    decimated: 0,
    slowSum: 0,
    slowCount: 0,
    slow: new Float64Array(window),
    window: new Float64Array(window),
    full: new Float64Array(RING),
    voice: new Float64Array(RING),
    middle: new Float64Array(RING),
    peaks: new Float64Array(RING),
    flats: new Uint16Array(RING),
    steps: new Uint8Array(RING),
    active: new Uint8Array(RING),
    alike: new Uint8Array(RING),
    histogram: new Uint32Array(STEPS),
    stepsCount: 0,
    floorStep: stepOf(FLOOR_AT_FIRST_DBOV),
    topStep: 0,
    loudStart: -1,
    lastLoud: -1,
    lastVoiced: -LEAD_FRAMES,
    clusterStart: 0,
    clusterVoiced: 0,
    speaking: false,
    speechStart: 0,
    lastSpoken: -1,
    lastHeard: 0,
    rolling: false,
    take: 0,
    takeStart: 0,
    rolledBefore: 0,
    nextTake: 1,
    nextHeard: 0,
    runs: [],
    open: null,
    nuclei: [],
    nucleusPeak: -Infinity,
    nucleusDip: Infinity,
    nucleusFrame: -1,
    nucleusAlike: 0,
  };
}

/**
 * Say which take the next roll begins, and how much of what was heard already is at its head.
 * Without this, takes are numbered 1, 2, 3 and begin with the block that rolls.
 * @param {LiveState} state
 * @param {number} take
 * @param {number} heardSamples kept from before the roll: they are the take's first samples
 * @returns {LiveState} the same object
 */
export function liveRolls(state, take, heardSamples) {
  state.nextTake = take;
  state.nextHeard = heardSamples;
  return state;
}

/**
 * Hear a block. The state is changed in place and given back.
 * @param {LiveState} state
 * @param {Float32Array} block any length, one channel, full scale 1
 * @param {boolean} rolling whether the block belongs to a take
 * @returns {LiveState} the same object
 */
export function liveStep(state, block, rolling) {
  if (rolling !== state.rolling) {
    if (rolling) roll(state);
    else hold(state);
  }
  const { sections, memory } = state;
  const [full, voice, high, low] = /** @type {[Section, Section, Section, Section]} */ (sections);
  for (let index = 0; index < block.length; index += 1) {
    const sample = /** @type {number} */ (block[index]);
    // A sample that is no number would stay in the filters for ever.
    const x = Number.isFinite(sample) ? sample : 0;
    const size = Math.abs(x);
    if (size > state.peakNow) state.peakNow = size;
    flatTop(state, x, size);

    const above20 = filtered(full, memory, 0, x);
    const above80 = filtered(voice, memory, 2, x);
    const middle = filtered(low, memory, 6, filtered(high, memory, 4, above80));
    state.powerFull += above20 * above20;
    state.powerVoice += above80 * above80;
    state.powerMiddle += middle * middle;

    state.slowSum += above80;
    state.slowCount += 1;
    if (state.slowCount === state.decimate) {
      state.slow[state.decimated % state.slow.length] = state.slowSum / state.decimate;
      state.decimated += 1;
      state.slowSum = 0;
      state.slowCount = 0;
    }
    state.position += 1;
    if (state.position === state.frameStop) endFrame(state);
  }
  return state;
}

/**
 * Say what is heard at this moment.
 * @param {LiveState} state
 * @returns {LiveSnapshot}
 */
export function liveSnapshot(state) {
  const { frame } = state;
  const rolledS = rolledSamples(state) / state.rate;
  let peak = state.peakNow;
  for (let back = 1; back <= Math.min(FRAMES_PER_S, frame); back += 1) {
    peak = Math.max(peak, at(state.peaks, frame - back));
  }
  let clipped = state.flatNow;
  for (let back = 1; back <= Math.min(CLIP_FRAMES, frame); back += 1) {
    clipped += at(state.flats, frame - back);
  }
  let level = 0;
  const recent = Math.min(10, frame);
  for (let back = 1; back <= recent; back += 1) level += at(state.full, frame - back);
  return {
    levelDbov: dbov(recent > 0 ? level / recent : 0),
    peak,
    clipped,
    speaking: state.speaking,
    floorDbov: floorOf(state),
    voiceDbov: voiceOf(state),
    rolling: state.rolling,
    secondsRolled: rolledS,
    silentS: state.rolling && !state.speaking ? (state.position - state.lastHeard) / state.rate : 0,
    wordRateHint: wordRate(state, rolledS),
    runs: state.runs
      .filter((run) => run.stopS === null || run.stopS > rolledS - KEPT_S)
      .map((run) => ({ ...run })),
  };
}

/** @param {LiveState} state */
function roll(state) {
  state.rolling = true;
  state.take = state.nextTake;
  state.takeStart = Math.max(0, state.position - state.nextHeard);
  state.nextTake += 1;
  state.nextHeard = 0;
  state.lastHeard = state.takeStart;
  if (state.speaking) openRun(state);
}

/** @param {LiveState} state */
function hold(state) {
  if (state.open !== null) closeRun(state);
  state.rolledBefore += state.position - state.takeStart;
  state.rolling = false;
  state.nucleusFrame = -1;
  state.nucleusPeak = -Infinity;
  state.nucleusDip = Infinity;
}

/** @param {LiveState} state */
function rolledSamples(state) {
  return state.rolledBefore + (state.rolling ? state.position - state.takeStart : 0);
}

/** @param {LiveState} state */
function endFrame(state) {
  const { frame, rate } = state;
  const here = frame % RING;
  const samples = state.frameStop - frameStart(frame, rate);
  state.full[here] = state.powerFull / samples;
  state.voice[here] = state.powerVoice / samples;
  state.middle[here] = state.powerMiddle / samples;
  state.peaks[here] = state.peakNow;
  state.flats[here] = state.flatNow;
  state.powerFull = 0;
  state.powerVoice = 0;
  state.powerMiddle = 0;
  state.peakNow = 0;
  state.flatNow = 0;
  for (let index = 0; index < state.memory.length; index += 1) {
    // Memories this small are nothing, and would slow the arithmetic down many times.
    if (Math.abs(/** @type {number} */ (state.memory[index])) < TOO_SMALL) state.memory[index] = 0;
  }

  const level = smoothed(state.voice, frame);
  const step = stepOf(dbov(level));
  forget(state, frame - FLOOR_FRAMES);
  state.steps[here] = step;
  if (step > 0) {
    state.histogram[step] = /** @type {number} */ (state.histogram[step]) + 1;
    state.stepsCount += 1;
  }
  if (frame % LOOK_FRAMES === 0) look(state);
  judge(state, frame, dbov(level));
  nucleus(state, frame);
  state.frame += 1;
  state.frameStop = frameStart(state.frame + 1, rate);
}

/**
 * Decide whether a frame is loud, whether it repeats itself, and what follows for the speech.
 * @param {LiveState} state
 * @param {number} frame
 * @param {number} level
 */
function judge(state, frame, level) {
  const here = frame % RING;
  const floor = dbovOfStep(state.floorStep);
  const top = dbovOfStep(state.topStep);
  const over = clamp(OVER_FLOOR_SHARE * (top - floor), OVER_FLOOR_LEAST_DB, OVER_FLOOR_DB);
  const loud = level > floor + over && level > top - UNDER_TOP_DB;
  const faint = level > floor + EDGE_OVER_FLOOR_DB && level > top - EDGE_UNDER_TOP_DB;
  const middle = dbov(smoothed(state.middle, frame));
  const voiced = loud && middle > level - MIDDLE_UNDER_DB && repeats(state);
  state.alike[here] = voiced ? 1 : 0;

  if (faint) {
    if (state.loudStart < 0) state.loudStart = frame;
    state.lastLoud = frame;
  } else if (frame - state.lastLoud > 3) {
    state.loudStart = -1;
  }
  if (voiced) {
    if (frame - state.lastVoiced > CLUSTER_GAP_FRAMES) {
      state.clusterStart = frame;
      state.clusterVoiced = 0;
    }
    state.clusterVoiced += 1;
    state.lastVoiced = frame;
    if (!state.speaking && state.clusterVoiced >= VOICED_FRAMES) {
      state.speaking = true;
      // The window of 4 frames hears a pitch a little after it began.
      const begun = state.loudStart < 0 ? state.clusterStart : state.loudStart;
      state.speechStart = Math.max(0, Math.min(begun, state.clusterStart), state.clusterStart - LEAD_FRAMES);
      if (state.rolling) openRun(state);
    }
  }
  if (state.speaking) {
    if (voiced || (faint && frame - state.lastVoiced <= TAIL_FRAMES)) {
      state.lastSpoken = frame;
      state.lastHeard = state.frameStop;
    }
    if (frame - state.lastSpoken >= PAUSE_FRAMES) {
      if (state.open !== null) closeRun(state);
      state.speaking = false;
    }
  }
  state.active[here] = state.speaking && frame - state.lastSpoken <= HANGOVER_FRAMES ? 1 : 0;
}

/** @param {LiveState} state */
function openRun(state) {
  const start = Math.max(state.takeStart, frameStart(state.speechStart, state.rate));
  state.open = {
    startS: (state.rolledBefore + start - state.takeStart) / state.rate,
    stopS: null,
    take: state.take,
    startSample: start - state.takeStart,
    stopSample: null,
  };
  state.runs.push(state.open);
  // What nobody is shown any more goes, so that an hour takes no more room than a minute.
  const from = rolledSamples(state) / state.rate - KEPT_S;
  while (state.runs.length > 0) {
    const first = /** @type {Run} */ (state.runs[0]);
    if (first.stopS === null || first.stopS > from) break;
    state.runs.shift();
  }
}

/** @param {LiveState} state */
function closeRun(state) {
  const run = /** @type {Run} */ (state.open);
  const spoken = Math.min(frameStart(state.lastSpoken + 1, state.rate), state.position);
  const stop = Math.max(spoken - state.takeStart, run.startSample);
  run.stopSample = stop;
  run.stopS = (state.rolledBefore + stop) / state.rate;
  state.open = null;
  if (stop === run.startSample) state.runs.pop();
}

/**
 * Count flat tops: three or more successive samples at full scale, as like as two steps of 16 bits.
 * @param {LiveState} state
 * @param {number} x
 * @param {number} size
 */
function flatTop(state, x, size) {
  if (size < CLIP_LEVEL || Math.abs(x - state.flatValue) > CLIP_SPREAD) {
    state.flatRun = size < CLIP_LEVEL ? 0 : 1;
    state.flatValue = x;
    return;
  }
  state.flatRun += 1;
  if (state.flatRun === CLIP_SAMPLES) state.flatNow += 1;
}

/**
 * Say whether the last 40 ms repeat themselves at a pitch of 70 to 400 Hz.
 * @param {LiveState} state
 */
function repeats(state) {
  const { slow, window, decimated } = state;
  const size = slow.length;
  if (decimated < size) return false;
  let mean = 0;
  for (let index = 0; index < size; index += 1) mean += /** @type {number} */ (slow[index]);
  mean /= size;
  let energy = 0;
  for (let index = 0; index < size; index += 1) {
    const x = /** @type {number} */ (slow[(decimated + index) % size]) - mean;
    window[index] = x;
    energy += x * x;
  }
  const rate = state.rate / state.decimate;
  const longest = Math.min(size - 1, Math.floor(rate / PITCH_HZ_MIN));
  const shortest = Math.max(1, Math.floor(rate / PITCH_HZ_MAX));
  let head = energy;
  let tail = energy;
  for (let lag = 1; lag <= longest; lag += 1) {
    const gone = /** @type {number} */ (window[lag - 1]);
    const lost = /** @type {number} */ (window[size - lag]);
    tail -= gone * gone;
    head -= lost * lost;
    if (lag < shortest) continue;
    let product = 0;
    for (let index = lag; index < size; index += 1) {
      product += /** @type {number} */ (window[index]) * /** @type {number} */ (window[index - lag]);
    }
    if (product > 0 && product * product >= ALIKE * ALIKE * head * tail) return true;
  }
  return false;
}

/**
 * Count a nucleus of a syllable: a peak of the smoothed middle band, a dip before and after it,
 * and a voice in it.
 * @param {LiveState} state
 * @param {number} frame
 */
function nucleus(state, frame) {
  if (!state.rolling || frame < HANN.length) return;
  let power = 0;
  HANN.forEach((weight, index) => {
    power += weight * at(state.middle, frame - index);
  });
  const level = dbov(power / HANN_SUM);
  if (level > state.nucleusPeak) {
    state.nucleusPeak = level;
    state.nucleusFrame = frame;
    state.nucleusAlike = 0;
    for (let back = 0; back < HANN.length; back += 1) {
      state.nucleusAlike += at(state.alike, frame - back);
    }
  }
  if (level < state.nucleusPeak - NUCLEUS_DIP_DB) {
    const heard = state.nucleusPeak > dbovOfStep(state.topStep) - NUCLEUS_UNDER_TOP_DB;
    if (heard && state.nucleusAlike > 1 && state.speaking) {
      state.nuclei.push(rolledSamples(state) / state.rate);
      const from = rolledSamples(state) / state.rate - RATE_S;
      while (/** @type {number} */ (state.nuclei[0]) < from) state.nuclei.shift();
    }
    state.nucleusPeak = -Infinity;
    state.nucleusDip = level;
    state.nucleusFrame = -1;
  }
  if (state.nucleusDip < Infinity) {
    // After a peak the level has to come up out of the dip before it can be another.
    state.nucleusDip = Math.min(state.nucleusDip, level);
    if (level < state.nucleusDip + NUCLEUS_DIP_DB) state.nucleusPeak = -Infinity;
    else state.nucleusDip = Infinity;
  }
}

/**
 * @param {LiveState} state
 * @param {number} rolledS
 */
function wordRate(state, rolledS) {
  const overS = Math.min(RATE_S, rolledS);
  const first = state.nuclei.findIndex((placeS) => placeS >= rolledS - overS);
  if (overS < RATE_S_MIN || first < 0) return null;
  return ((state.nuclei.length - first) / NUCLEI_A_WORD / overS) * 60;
}

/**
 * Give the median of what is away from speech; where that is under a second, the low end of all.
 * @param {LiveState} state
 */
function floorOf(state) {
  const quiet = [];
  const first = Math.max(0, state.frame - FLOOR_FRAMES);
  for (let frame = first; frame < state.frame; frame += 1) {
    const power = at(state.full, frame);
    if (power > 0 && at(state.active, frame) === 0 && at(state.alike, frame) === 0) quiet.push(power);
  }
  if (quiet.length >= FRAMES_PER_S) return dbov(middleOf(quiet));
  if (state.stepsCount === 0) return null;
  return dbovOfStep(stepOfShare(state.histogram, state.stepsCount, FLOOR_SHARE));
}

/** @param {LiveState} state */
function voiceOf(state) {
  let power = 0;
  let count = 0;
  const first = Math.max(0, state.frame - VOICE_FRAMES);
  for (let frame = first; frame < state.frame; frame += 1) {
    if (at(state.active, frame) === 0) continue;
    power += at(state.full, frame);
    count += 1;
  }
  return count < VOICE_FRAMES_MIN ? null : dbov(power / count);
}

/**
 * Take a frame that is too old out of the histogram.
 * @param {LiveState} state
 * @param {number} frame
 */
function forget(state, frame) {
  if (frame < 0) return;
  const step = at(state.steps, frame);
  if (step === 0) return;
  state.histogram[step] = /** @type {number} */ (state.histogram[step]) - 1;
  state.stepsCount -= 1;
}

/**
 * Follow the room and the voice. Exact zeros are no room and are not counted.
 * @param {LiveState} state
 */
function look(state) {
  if (state.stepsCount === 0) return;
  const floor = stepOfShare(state.histogram, state.stepsCount, FLOOR_SHARE);
  const known = state.stepsCount >= FLOOR_KNOWN_FRAMES;
  // Somebody who speaks at once must not be taken for the room.
  state.floorStep = known ? floor : Math.min(floor, stepOf(FLOOR_AT_FIRST_DBOV));
  state.topStep = stepOfShare(state.histogram, state.stepsCount, TOP_SHARE);
}

/**
 * Give the mean power of a frame and the two before it.
 * @param {Float64Array} powers
 * @param {number} frame
 */
function smoothed(powers, frame) {
  if (frame < 2) return at(powers, frame);
  return (at(powers, frame) + at(powers, frame - 1) + at(powers, frame - 2)) / 3;
}

/**
 * @param {Float64Array | Uint8Array | Uint16Array} ring
 * @param {number} frame
 */
function at(ring, frame) {
  return /** @type {number} */ (ring[frame % RING]);
}

/** @param {number[]} values */
function middleOf(values) {
  values.sort((a, b) => a - b);
  return /** @type {number} */ (values[values.length >> 1]);
}

/** @param {number} power */
function dbov(power) {
  return power > 0 ? 10 * Math.log10(power) : -Infinity;
}

/**
 * @param {Section} section
 * @param {Float64Array} memory
 * @param {number} place
 * @param {number} x
 */
function filtered(section, memory, place, x) {
  const y = section[0] * x + /** @type {number} */ (memory[place]);
  memory[place] = section[1] * x - section[3] * y + /** @type {number} */ (memory[place + 1]);
  memory[place + 1] = section[2] * x - section[4] * y;
  return y;
}
