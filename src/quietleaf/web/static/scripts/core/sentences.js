// Sentence starts as they are spoken, from the runs of speech that live.js hears: a pause, its length
// against what is usual, and a place in it.

/** @typedef {import("./again.js").Start} Start */
/** @typedef {import("./live.js").Run} Run */

/** So far before the first sound of a sentence its place lies, if the pause is long enough. */
const BEFORE_S = 0.12;
const USUAL_PAUSE_S = 0.5;
const STEEPNESS = 3;

/**
 * @typedef {object} SentencesState
 * @property {Run | null} last
 */

/** @returns {SentencesState} */
export function startSentences() {
  return { last: null };
}

/**
 * Give the starts that are new among the runs of the last half minute.
 * @param {SentencesState} state
 * @param {readonly Run[]} runs
 * @param {number} rate
 * @returns {Start[]}
 */
export function sentencesStep(state, runs, rate) {
  /** @type {Start[]} */
  const found = [];
  for (const run of runs) {
    const { last } = state;
    const isOld = last !== null && (run.take < last.take || (run.take === last.take && run.startSample <= last.startSample));
    if (isOld) {
      if (last.startSample === run.startSample && last.take === run.take) state.last = run;
      continue;
    }
    found.push(startOf(run, last, rate));
    state.last = run;
  }
  return found;
}

/**
 * @param {Run} run
 * @param {Run | null} before
 * @param {number} rate
 * @returns {Start}
 */
function startOf(run, before, rate) {
  const { take, startSample } = run;
  const from = before !== null && before.take === take ? (before.stopSample ?? startSample) : 0;
  const isFirst = before === null || before.take !== take;
  const pauseS = (startSample - from) / rate;
  const away = Math.min(BEFORE_S, pauseS / 2);
  return {
    from: { take, sample: from },
    place: { take, sample: Math.round(startSample - away * rate) },
    onset: { take, sample: startSample },
    likelihood: isFirst ? 1 : 1 / (1 + (USUAL_PAUSE_S / pauseS) ** STEEPNESS),
  };
}
