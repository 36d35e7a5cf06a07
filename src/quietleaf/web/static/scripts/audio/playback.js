// Plays what was read into the headphones: never louder than half of full level, and never while
// the microphone's sound goes into the programme (its owner stops it first).

/** No sample that leaves here is greater, whatever is played and however far up the volume is. */
export const GREATEST = 0.5;
const FADE_S = 0.02;
/** Sound that begins or ends in the middle of a word would click. */
const EDGE_S = 0.01;
/** A line to the headphones that is not open by then does not open. */
const OPENS_MS = 500;
/** What is not over so long after its time is not playing at all. */
const LATE_MS = 1500;
const KEY = "quietleaf:headphones";
const FIRST_VOLUME = 40;

/**
 * How playing ended: it was heard to its end, it was stopped, or nothing came out.
 * @typedef {"heard" | "stopped" | "mute"} Ending
 */

export class Playback {
  /** @type {AudioContext | null} */ #context = null;
  /** @type {GainNode | null} */ #gain = null;
  /** @type {((ending: Ending) => void) | null} */ #end = null;
  #volume = volumeOf(localStorage.getItem(KEY));
  #peak = 1;

  /** From 0 to 100. */
  get volume() {
    return this.#volume;
  }

  set volume(percent) {
    this.#volume = percent;
    localStorage.setItem(KEY, String(percent));
    this.#gain?.gain.setTargetAtTime(gainFor(this.#volume, this.#peak), 0, FADE_S);
  }

  get playing() {
    return this.#end !== null;
  }

  /** Begin the line to the headphones, silent: what is to be heard at once finds it open. */
  open() {
    const context = (this.#context ??= new AudioContext());
    if (this.#gain === null) {
      this.#gain = context.createGain();
      this.#gain.connect(context.destination);
    }
    // Where the browser does not let it, it is asked for anew when something is to be played.
    if (context.state !== "running") void context.resume().catch(() => {});
    return { context, gain: this.#gain };
  }

  /**
   * Play; where the line is open it sounds at once.
   *
   * @param {Float32Array<ArrayBuffer>} samples
   * @param {number} rate
   * @returns {Promise<Ending>} When it is over: "heard" once the end has come out at the headphones.
   */
  play(samples, rate) {
    this.stop();
    if (samples.length === 0) return Promise.resolve("heard");
    const line = this.open();
    return new Promise((done) => {
      /** @type {() => void} */ let stop = () => {};
      const end = (/** @type {Ending} */ ending) => {
        if (this.#end !== end) return;
        this.#end = null;
        stop();
        done(ending);
      };
      this.#end = end;
      const start = () => {
        if (this.#end !== end) return;
        if (line.context.state === "running") stop = this.#sound(line, samples, rate, end);
        else end("mute");
      };
      if (line.context.state === "running") start();
      else void Promise.race([line.context.resume().catch(() => {}), waited(OPENS_MS)]).then(start);
    });
  }

  stop() {
    this.#end?.("stopped");
  }

  close() {
    this.stop();
    void this.#context?.close();
    this.#context = null;
    this.#gain = null;
  }

  /**
   * @param {{context: AudioContext, gain: GainNode}} line
   * @param {Float32Array<ArrayBuffer>} samples
   * @param {number} rate
   * @param {(ending: Ending) => void} end
   * @returns {() => void} stops it
   */
  #sound({ context, gain }, samples, rate, end) {
    const sound = context.createBuffer(1, samples.length, rate);
    sound.copyToChannel(samples, 0);
    this.#peak = peakOf(samples);
    gain.gain.cancelScheduledValues(0);
    gain.gain.value = gainFor(this.#volume, this.#peak);
    const edges = context.createGain();
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(edges).connect(gain);
    const now = context.currentTime;
    edges.gain.setValueAtTime(0, now);
    edges.gain.linearRampToValueAtTime(1, now + EDGE_S);
    source.start();
    const latencyMs = 1000 * latencyOf(context);
    const late = setTimeout(() => end("mute"), 1000 * sound.duration + latencyMs + LATE_MS);
    // The last sample has left here, but has still to come out.
    source.addEventListener("ended", () => setTimeout(() => end("heard"), latencyMs));
    return () => {
      clearTimeout(late);
      const stops = context.currentTime;
      edges.gain.cancelScheduledValues(stops);
      edges.gain.setTargetAtTime(0, stops, EDGE_S / 3);
      source.stop(stops + 2 * EDGE_S);
    };
  }
}

/**
 * How long it takes what is played to come out at the headphones.
 *
 * @param {AudioContext} context
 */
function latencyOf({ baseLatency = 0, outputLatency = 0 }) {
  return baseLatency + outputLatency;
}

/** @param {number} timeMs */
function waited(timeMs) {
  return new Promise((done) => setTimeout(done, timeMs));
}

/** @param {Float32Array} samples */
function peakOf(samples) {
  let peak = 0;
  for (const sample of samples) peak = Math.max(peak, Math.abs(sample));
  return peak;
}

/**
 * The gain at a volume: even steps to the ear, and no sample above `GREATEST`.
 *
 * @param {number} percent
 * @param {number} peak Greatest sample of what is played.
 */
export function gainFor(percent, peak) {
  if (percent <= 0 || peak <= 0) return 0;
  const downDb = -40 * (1 - percent / 100);
  return Math.min(2, GREATEST / peak) * 10 ** (downDb / 20);
}

/** @param {string | null} text */
export function volumeOf(text) {
  const percent = Number(text ?? FIRST_VOLUME);
  return percent >= 0 && percent <= 100 ? percent : FIRST_VOLUME;
}
