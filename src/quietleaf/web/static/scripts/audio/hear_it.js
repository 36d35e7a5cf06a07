// What “Hear it” plays: the last sentences, as the browser still has them, or the station does.

/** @typedef {import("../core/live.js").Run} Run */
/** @typedef {{samples: Float32Array<ArrayBuffer>, rate: number}} Sound */

const LAST_S = 8;
const ROOM_AFTER_S = 0.3;
const AT_STATION = "/stand/reading/last";

/**
 * The last runs of the last take: as many as it takes to hear the last sentences.
 *
 * @param {readonly Run[]} runs
 */
export function lastRuns(runs) {
  const last = runs.at(-1);
  if (last === undefined) return [];
  const ends = last.stopS ?? last.startS;
  const far = runs.findLast((run) => run.take === last.take && run.startS <= ends - LAST_S);
  const from = far ?? runs.find((run) => run.take === last.take);
  return from === undefined ? [] : runs.slice(runs.indexOf(from));
}

/**
 * The sound of runs that follow one another in a take, with a little of the room after them; null
 * where nothing of it is in memory any more.
 *
 * @param {import("./recorder.js").Recorder} recorder
 * @param {readonly Run[]} runs
 * @returns {Promise<Sound | null>}
 */
export async function soundOf(recorder, runs) {
  const [first] = runs;
  const last = runs.at(-1);
  if (first === undefined || last === undefined) return null;
  const sound = await recorder.recent({
    takeIndex: first.take,
    start: first.startSample,
    stop: (last.stopSample ?? last.startSample) + Math.round(ROOM_AFTER_S * recorder.rate),
  });
  return sound.samples.length === 0 ? null : sound;
}

/**
 * The end of the reading as the station has it; null where it has nothing, or does not answer.
 *
 * @returns {Promise<Sound | null>}
 */
export async function lastAtStation() {
  const answer = await fetch(AT_STATION).catch(() => null);
  if (answer === null || !answer.ok) return null;
  // A context that plays nothing: it is there to decode, at one rate.
  const decoder = new OfflineAudioContext(1, 1, 48_000);
  const sound = await decoder.decodeAudioData(await answer.arrayBuffer());
  return { samples: sound.getChannelData(0), rate: sound.sampleRate };
}
