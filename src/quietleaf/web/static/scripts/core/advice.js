// When a reader is told that something is wrong: one thing at a time, only when it lasts, and
// neither flickering nor nagging. Codes, not sentences. Pure.

/**
 * Gravest first:
 * `no-sound` nothing at all comes from the microphone, not even its noise;
 * `not-heard` no voice since the take began, or for a long while after;
 * `clipping` flat tops at full scale; `too-loud`, `too-quiet` the voice while it speaks;
 * `room-loud` the room has become louder than the voice allows.
 * @typedef {"no-sound" | "not-heard" | "clipping" | "too-loud" | "too-quiet" | "room-loud"} AdviceCode
 */

/**
 * @typedef {object} AdviceLimits
 * @property {number} unheardS a take without any voice for this long: is it the right microphone?
 * @property {number} silentS no more voice for this long while recording: a fault in a programme
 * @property {number} clippedMin flat tops in 5 s
 * @property {number} loudDbov
 * @property {number} quietDbov
 * @property {number} noiseBelowVoiceDb
 * @property {number} nearDb a thing that is being said goes when it is better by so much
 */

/**
 * Levels bracket what the station brings into order without harm: 24 bits hold a voice at -40 with
 * room to spare, and peaks lie 12 to 18 dB over the voice. 20 dB of room under the voice is where
 * a hearing of the reading asks for an ear. Five seconds of silence are a fault (common practice,
 * no source), and a reader who looks for a place needs a few more. Ours where nothing is said.
 * @type {AdviceLimits}
 */
export const ADVICE_LIMITS = Object.freeze({
  unheardS: 6,
  silentS: 10,
  clippedMin: 3,
  loudDbov: -13,
  quietDbov: -40,
  noiseBelowVoiceDb: 20,
  nearDb: 2,
});

/**
 * @typedef {object} Patience
 * @property {number} afterS it has lasted this long before it is said
 * @property {number} mostS said for this long at a time; the reader has seen it by then
 * @property {number} againS not said again for so long after that
 */

/** What cannot be recorded is said as long as it is so; what is a matter of quality, once. */
const ALWAYS = { mostS: Infinity, againS: 0 };

/** @type {[AdviceCode, Patience][]} */
const GRAVEST_FIRST = [
  ["no-sound", { afterS: 2, ...ALWAYS }],
  ["not-heard", { afterS: 0.5, ...ALWAYS }],
  ["clipping", { afterS: 1, mostS: 20, againS: 40 }],
  ["too-loud", { afterS: 4, mostS: 20, againS: 90 }],
  ["too-quiet", { afterS: 6, mostS: 20, againS: 90 }],
  ["room-loud", { afterS: 8, mostS: 20, againS: 180 }],
];
const SHOWN_S_MIN = 4;
/** Better for so long before it goes. */
const BETTER_S = 1.5;

/**
 * @typedef {object} Watch
 * @property {number | null} wrongS since when it is wrong
 * @property {number | null} betterS since when it is better
 * @property {number} notBeforeS
 */

/**
 * @typedef {object} AdviceState
 * @property {AdviceLimits} limits
 * @property {Record<AdviceCode, Watch>} watches
 * @property {{code: AdviceCode, since: number} | null} advice
 */

/**
 * @param {Partial<AdviceLimits>} [limits] in place of the usual ones
 * @returns {AdviceState}
 */
export function startAdvice(limits) {
  return { limits: { ...ADVICE_LIMITS, ...limits }, watches: allWell(), advice: null };
}

/**
 * Look at what is heard; a few times a second is enough.
 * @param {AdviceState} state is left as it is
 * @param {import("./live.js").LiveSnapshot} snapshot
 * @param {number} nowS of any clock that only goes forward
 * @returns {{state: AdviceState, advice: {code: AdviceCode, since: number} | null}}
 */
export function adviceStep(state, snapshot, nowS) {
  const watches = { ...state.watches };
  for (const [code] of GRAVEST_FIRST) {
    const shown = state.advice?.code === code;
    watches[code] = watched(watches[code], wrong(code, state.limits, snapshot, shown), nowS);
  }
  let advice = state.advice;
  if (advice !== null) {
    const { code, since } = advice;
    const { mostS, againS } = patience(code);
    const { betterS } = watches[code];
    const shownS = nowS - since;
    const better = betterS !== null && nowS - betterS >= BETTER_S && shownS >= SHOWN_S_MIN;
    // Held, what concerns the voice is of no use to anybody.
    const moot = !snapshot.rolling && code !== "no-sound";
    if (moot || better || shownS >= mostS) {
      watches[code] = { ...watches[code], wrongS: null, notBeforeS: nowS + againS };
      advice = null;
    }
  }
  const due = GRAVEST_FIRST.find(([code, { afterS }]) => {
    const { wrongS, notBeforeS } = watches[code];
    return wrongS !== null && nowS - wrongS >= afterS && nowS >= notBeforeS;
  });
  if (due !== undefined && outranks(due[0], advice)) {
    // What gives way was not seen out, so it may come back when the graver thing is gone.
    advice = { code: due[0], since: nowS };
  }
  return { state: { ...state, watches, advice }, advice };
}

/**
 * @param {AdviceCode} code
 * @param {AdviceLimits} limits
 * @param {import("./live.js").LiveSnapshot} heard
 * @param {boolean} shown then it has to be better by a little before it is well
 * @returns {boolean | null} null where nothing can be said just now
 */
function wrong(code, limits, heard, shown) {
  if (code === "no-sound") return heard.levelDbov === -Infinity;
  if (!heard.rolling) return false;
  const near = shown ? limits.nearDb : 0;
  switch (code) {
    case "not-heard": {
      const never = heard.silentS >= heard.secondsRolled - 0.5 || heard.voiceDbov === null;
      return heard.silentS >= (never ? limits.unheardS : limits.silentS);
    }
    case "clipping":
      return heard.clipped >= (shown ? 1 : limits.clippedMin);
    case "too-loud":
      return heard.voiceDbov === null ? null : heard.voiceDbov > limits.loudDbov - near;
    case "too-quiet":
      return heard.voiceDbov === null ? null : heard.voiceDbov < limits.quietDbov + near;
    case "room-loud": {
      if (heard.voiceDbov === null || heard.floorDbov === null) return null;
      return heard.voiceDbov - heard.floorDbov < limits.noiseBelowVoiceDb + near;
    }
  }
}

/**
 * @param {Watch} watch
 * @param {boolean | null} isWrong
 * @param {number} nowS
 * @returns {Watch}
 */
function watched(watch, isWrong, nowS) {
  if (isWrong === null) return watch;
  if (isWrong) return { ...watch, wrongS: watch.wrongS ?? nowS, betterS: null };
  return { ...watch, wrongS: null, betterS: watch.betterS ?? nowS };
}

/**
 * @param {AdviceCode} code
 * @param {{code: AdviceCode} | null} advice
 */
function outranks(code, advice) {
  if (advice === null) return true;
  return rank(code) < rank(advice.code);
}

/** @param {AdviceCode} code */
function rank(code) {
  return GRAVEST_FIRST.findIndex(([other]) => other === code);
}

/** @param {AdviceCode} code */
function patience(code) {
  return /** @type {[AdviceCode, Patience]} */ (GRAVEST_FIRST[rank(code)])[1];
}

/** @returns {Record<AdviceCode, Watch>} */
function allWell() {
  const well = GRAVEST_FIRST.map(([code]) => [code, { wrongS: null, betterS: null, notBeforeS: -Infinity }]);
  return Object.fromEntries(well);
}
