// How far the station's copy has got, as a sentence that can be read: it changes seldom, and says
// the furthest behind of the time before. Pure but for what it remembers.

import { SAVED } from "../texts/stand.js";
import { savedSaid } from "./standing.js";

/** @typedef {import("./standing.js").Standing} Standing */

export class KeptLine {
  #lasts;
  #saidAt = -Infinity;
  #said = SAVED.nothing;
  #worstS = 0;

  /** @param {number} lasts So long a sentence stands, on the clock that `said` is given. */
  constructor(lasts) {
    this.#lasts = lasts;
  }

  /** What is said is out of date: another sentence may come at once. */
  change() {
    this.#saidAt = -Infinity;
  }

  /** @param {number} behindS */
  see(behindS) {
    this.#worstS = Math.max(this.#worstS, behindS);
  }

  /**
   * @param {Standing} standing
   * @param {number} wordsPerMin
   * @param {number} now
   */
  said(standing, wordsPerMin, now) {
    if (now - this.#saidAt >= this.#lasts) {
      this.#saidAt = now;
      const behindS = standing.station === "well" ? this.#worstS : standing.behindS;
      this.#said = savedSaid({ ...standing, behindS }, wordsPerMin);
      this.#worstS = standing.behindS;
    }
    return this.#said;
  }
}
