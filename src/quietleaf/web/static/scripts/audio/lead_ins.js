// What leads up to each sentence that the desk sent back: the station has it, and the page plays it.

import { joinedSoftly } from "../core/recent.js";
import { beforeSentBack } from "./hear_it.js";

/** @typedef {import("./hear_it.js").Sound} Sound */

const SOFT_S = 0.01;

export class LeadIns {
  #numbers;
  #index = -1;
  /** @type {Sound | null} */ #sound = null;

  /** @param {readonly number[]} numbers by which the station knows what it sent back */
  constructor(numbers) {
    this.#numbers = numbers;
  }

  /** The number of what is read now. */
  get number() {
    return /** @type {number} */ (this.#numbers[this.#index]);
  }

  /** Whether the station did not give what comes before. */
  get isMissing() {
    return this.#sound === null;
  }

  /**
   * Read another one from now on; what is read now already is gone on with.
   *
   * @param {import("./recorder.js").Recorder} recorder
   * @param {number} index
   */
  async open(recorder, index) {
    if (index === this.#index && this.#sound?.rate === recorder.rate) return;
    this.#index = index;
    this.#sound = await beforeSentBack(this.number, recorder.rate);
    const beforeS = (this.#sound?.samples.length ?? 0) / recorder.rate;
    await recorder.readAgainFor(this.number, beforeS);
  }

  /**
   * Put the last of what comes before all that was recorded in front of a lead-in.
   *
   * @param {Sound} leadIn
   * @param {number} beforeS
   * @returns {Sound}
   */
  joined({ samples, rate }, beforeS) {
    const all = this.#sound?.samples ?? new Float32Array(0);
    const before = all.slice(Math.max(0, all.length - Math.round(beforeS * rate)));
    const parts = [before, samples].filter(({ length }) => length > 0);
    return { samples: joinedSoftly(parts, Math.round(SOFT_S * rate)), rate };
  }
}
