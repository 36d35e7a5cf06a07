// Raw sound of a track, all its channels, for a check of a minute; never kept. Unlike a recording
// it is read in the page itself: the page does nothing else meanwhile.

import { audioGraph } from "./recorder.js";
import { readPort, readTrack } from "./source.js";

const BLOCKS_MAX = 50;

export class Ear {
  /** @type {Float32Array[][]} */ #blocks = [];
  #rate = 0;
  #stop = () => {};

  /**
   * @param {MediaStreamTrack} track
   * @returns {Promise<Ear>}
   */
  static async open(track) {
    const ear = new Ear();
    /** @param {import("./source.js").SourceBlock} block */
    const take = (block) => ear.#take(block);
    if ("MediaStreamTrackProcessor" in window) {
      const { readable } = new MediaStreamTrackProcessor({ track, maxBufferSize: BLOCKS_MAX });
      // That the track ended is told by who watches it.
      ear.#stop = readTrack(readable, take, () => {}).stop;
    } else {
      const graph = await audioGraph(track);
      const source = readPort(graph.port, graph.rate, take);
      ear.#stop = () => {
        source.stop();
        graph.stop();
      };
    }
    return ear;
  }

  get rate() {
    return this.#rate;
  }

  /** Forget what was heard so far. */
  begin() {
    this.#blocks = [];
  }

  /**
   * What was heard since it began, each channel for itself.
   * @returns {Float32Array[]}
   */
  heard() {
    const blocks = this.#blocks;
    const channels = Math.min(...blocks.map((block) => block.length), 2);
    if (blocks.length === 0) return [];
    return Array.from({ length: channels }, (_, channel) => {
      const parts = blocks.map((block) => /** @type {Float32Array} */ (block[channel]));
      const whole = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
      let at = 0;
      for (const part of parts) {
        whole.set(part, at);
        at += part.length;
      }
      return whole;
    });
  }

  close() {
    this.#stop();
  }

  /** @param {import("./source.js").SourceBlock} block */
  #take({ channels, rate }) {
    if (rate !== this.#rate) {
      // A device that changes its rate makes what was before another sound.
      this.#rate = rate;
      this.#blocks = [];
    }
    this.#blocks.push(channels);
  }
}
