// What “Hear it” plays: the last sentences, as the browser still has them, or the station does.

import { isLeftOut } from "../core/programme.js";
import { joinedSoftly } from "../core/recent.js";

/** @typedef {import("../core/live.js").Run} Run */
/** @typedef {{samples: Float32Array<ArrayBuffer>, rate: number}} Sound */

const LAST_S = 8;
const ROOM_AFTER_S = 0.3;
const SOFT_S = 0.01;
const WAVE_HEADER_BYTES = 44;
const AT_STATION = "/stand/reading/last";

/**
 * The last runs of the last take that are in the programme: as many as it takes to hear the last
 * sentences.
 *
 * @param {readonly Run[]} runs
 * @param {readonly import("../core/programme.js").Stretch[]} outside
 */
export function lastRuns(runs, outside) {
  const kept = runs.filter(
    ({ startS, stopS }) => !isLeftOut({ startS, stopS: stopS ?? startS }, outside),
  );
  const last = kept.at(-1);
  if (last === undefined) return [];
  const ends = last.stopS ?? last.startS;
  const far = kept.findLast((run) => run.take === last.take && run.startS <= ends - LAST_S);
  const from = far ?? kept.find((run) => run.take === last.take);
  return from === undefined ? [] : kept.slice(kept.indexOf(from));
}

/**
 * The sound of runs of one take, with the room between them and a little of it after; null where
 * nothing of it is in memory any more.
 *
 * @param {import("./recorder.js").Recorder} recorder
 * @param {readonly Run[]} runs
 * @param {readonly Run[]} all What is not among the runs is not heard either.
 * @returns {Promise<Sound | null>}
 */
export async function soundOf(recorder, runs, all = runs) {
  const parts = await Promise.all(
    inOneGo(runs, all).map(({ first, last }) =>
      recorder.recent({
        takeIndex: first.take,
        start: first.startSample,
        stop: (last.stopSample ?? last.startSample) + Math.round(ROOM_AFTER_S * recorder.rate),
      }),
    ),
  );
  const sounds = parts.map(({ samples }) => samples).filter(({ length }) => length > 0);
  if (sounds.length === 0) return null;
  return { samples: joinedSoftly(sounds, Math.round(SOFT_S * recorder.rate)), rate: recorder.rate };
}

/**
 * Runs that follow one another without one that is left out between them.
 *
 * @param {readonly Run[]} runs
 * @param {readonly Run[]} all
 */
function inOneGo(runs, all) {
  /** @type {{first: Run, last: Run}[]} */
  const going = [];
  for (const run of runs) {
    const before = all[all.indexOf(run) - 1];
    const open = going.at(-1);
    if (open !== undefined && open.last === before) open.last = run;
    else going.push({ first: run, last: run });
  }
  return going;
}

/**
 * The end of the reading as the station has it; null where it has nothing, or does not answer.
 *
 * @returns {Promise<Sound | null>}
 */
export function lastAtStation() {
  return soundAt(AT_STATION);
}

/**
 * What leads up to a sentence that was sent back; null where the station does not answer.
 *
 * @param {number} number
 * @param {number} rate
 */
export function beforeSentBack(number, rate) {
  return soundAt(`/stand/reading/before?number=${number}`, rate);
}

/**
 * A sentence that was sent back, as it stands now in its place.
 *
 * @param {number} number
 */
export function sentBackInPlace(number) {
  return soundAt(`/stand/reading/in-place?number=${number}`);
}

/**
 * @param {string} address
 * @param {number} rate
 * @returns {Promise<Sound | null>}
 */
async function soundAt(address, rate = 48_000) {
  const answer = await fetch(address).catch(() => null);
  if (answer === null || !answer.ok) return null;
  const bytes = await answer.arrayBuffer();
  if (bytes.byteLength <= WAVE_HEADER_BYTES) return { samples: new Float32Array(0), rate };
  // A context that plays nothing: it is there to decode, at one rate.
  const decoder = new OfflineAudioContext(1, 1, rate);
  const sound = await decoder.decodeAudioData(bytes);
  return { samples: sound.getChannelData(0), rate: sound.sampleRate };
}
