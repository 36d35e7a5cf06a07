// Capture where the browser hands a page no stream of its microphone: through the audio graph. It
// may drop or repeat single blocks where microphone and headphones run on two clocks, without a word;
// so every take made by it says so.

const BLOCK = 1024;

class Capture extends AudioWorkletProcessor {
  /** @type {MessagePort | null} */ #to = null;
  /** @type {Float32Array<ArrayBuffer>[]} */ #channels = [];
  #filled = 0;

  constructor() {
    super();
    this.port.onmessage = ({ data }) => {
      this.#to = /** @type {MessagePort} */ (data);
    };
  }

  /** @param {Float32Array[][]} inputs */
  process([input]) {
    const [first] = input ?? [];
    if (input === undefined || first === undefined) return true;
    if (this.#channels.length !== input.length) {
      this.#send();
      this.#channels = input.map(() => new Float32Array(BLOCK));
    }
    for (const [index, channel] of this.#channels.entries()) {
      channel.set(/** @type {Float32Array} */ (input[index]), this.#filled);
    }
    this.#filled += first.length;
    if (this.#filled === BLOCK) {
      this.#send();
      this.#channels = input.map(() => new Float32Array(BLOCK));
    }
    return true;
  }

  #send() {
    const channels = this.#channels.map((channel) => channel.slice(0, this.#filled));
    if (this.#filled > 0) {
      this.#to?.postMessage({ channels }, channels.map(({ buffer }) => buffer));
    }
    this.#filled = 0;
  }
}

registerProcessor("quietleaf-capture", Capture);
