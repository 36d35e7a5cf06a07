// Raw sound of a track, all its channels, for a check of a minute; never kept.

import { MicrophoneTrouble } from "./microphone.js";

export class Ear {
  /** @type {Float32Array[][]} */ #blocks = [];
  #rate = 0;
  #open = true;
  /** @type {ReadableStreamDefaultReader<AudioData>} */ #reader;

  /**
   * @param {MediaStreamTrack} track
   * @throws {MicrophoneTrouble}
   */
  constructor(track) {
    if (!("MediaStreamTrackProcessor" in window)) throw new MicrophoneTrouble("unsupported");
    this.#reader = new MediaStreamTrackProcessor({ track, maxBufferSize: 50 }).readable.getReader();
    void this.#read();
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
    this.#open = false;
    void this.#reader.cancel().catch(() => undefined);
  }

  async #read() {
    while (this.#open) {
      const { value, done } = await this.#reader.read();
      if (done) return;
      const { numberOfChannels, numberOfFrames, sampleRate } = value;
      if (sampleRate !== this.#rate) {
        // A device that changes its rate makes what was before another sound.
        this.#rate = sampleRate;
        this.#blocks = [];
      }
      const block = Array.from({ length: numberOfChannels }, (_, planeIndex) => {
        const plane = new Float32Array(numberOfFrames);
        value.copyTo(plane, { planeIndex, format: "f32-planar" });
        return plane;
      });
      value.close();
      this.#blocks.push(block);
    }
  }
}
