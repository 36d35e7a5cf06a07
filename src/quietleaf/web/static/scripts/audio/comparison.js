// Two sounds of one moment that play at once, one of them heard: changing over loses no place.

/** @typedef {"before" | "now"} Version */

const VERSIONS = /** @type {const} */ (["before", "now"]);
const FADE_S = 0.01;

export class Comparison {
  /** @type {AudioContext | null} */
  #context = null;
  /** @type {{gains: Map<Version, GainNode>, sources: AudioBufferSourceNode[]} | null} */
  #playing = null;
  /** Counts what was asked for: an answer that comes too late plays nothing. */
  #asked = 0;
  /** @type {Version} */
  heard = "before";

  get isPlaying() {
    return this.#playing !== null;
  }

  /**
   * Play both from their beginning; answers whether they came to their end, and nothing else was
   * asked for before.
   *
   * @param {Record<Version, string>} addresses
   * @param {Version} heard
   * @param {() => void} begun
   */
  async play(addresses, heard, begun) {
    this.stop();
    const asked = ++this.#asked;
    const context = (this.#context ??= new AudioContext());
    await context.resume();
    const sounds = await Promise.all(
      VERSIONS.map(async (version) => {
        const answer = await fetch(addresses[version]);
        if (!answer.ok) throw new Error(`${addresses[version]} answered ${answer.status}`);
        return context.decodeAudioData(await answer.arrayBuffer());
      }),
    );
    if (asked !== this.#asked) return false;
    /** @type {Map<Version, GainNode>} */
    const gains = new Map();
    const sources = sounds.map((sound, index) => {
      const gain = new GainNode(context, { gain: VERSIONS[index] === heard ? 1 : 0 });
      gains.set(VERSIONS[index] ?? "now", gain);
      const source = new AudioBufferSourceNode(context, { buffer: sound });
      source.connect(gain).connect(context.destination);
      return source;
    });
    this.heard = heard;
    this.#playing = { gains, sources };
    const starts = context.currentTime + FADE_S;
    const over = new Promise((done) => sources[0]?.addEventListener("ended", done));
    for (const source of sources) source.start(starts);
    begun();
    await over;
    return asked === this.#asked;
  }

  /** Hear the other one from here on. */
  change() {
    if (this.#playing === null || this.#context === null) return;
    this.heard = this.heard === "before" ? "now" : "before";
    const now = this.#context.currentTime;
    for (const [version, { gain }] of this.#playing.gains) {
      gain.setTargetAtTime(version === this.heard ? 1 : 0, now, FADE_S / 3);
    }
  }

  stop() {
    this.#asked += 1;
    for (const source of this.#playing?.sources ?? []) source.stop();
    this.#playing = null;
  }
}
