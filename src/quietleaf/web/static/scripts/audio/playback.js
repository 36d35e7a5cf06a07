// Plays what was read into the headphones: never louder than half of full level, and never while
// the microphone's sound goes into the programme (its owner stops it first).

/** No sample that leaves here is greater, whatever is played and however far up the volume is. */
export const GREATEST = 0.5;
const FADE_S = 0.02;
const KEY = "quietleaf:headphones";
const FIRST_VOLUME = 40;

export class Playback extends EventTarget {
  /** @type {AudioContext | null} */ #context = null;
  /** @type {GainNode | null} */ #gain = null;
  /** @type {AudioBufferSourceNode | null} */ #source = null;
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
    return this.#source !== null;
  }

  /** Begin the line to the headphones, silent: what is to be heard at once finds it open. */
  open() {
    const context = (this.#context ??= new AudioContext());
    if (this.#gain === null) {
      this.#gain = context.createGain();
      this.#gain.connect(context.destination);
    }
    return context.state === "running" ? null : context.resume();
  }

  /** How long it takes what is played to come out at the headphones. */
  get latencyS() {
    const { baseLatency = 0, outputLatency = 0 } = this.#context ?? {};
    return baseLatency + outputLatency;
  }

  /**
   * Play; the event "ended" tells when it is over, by itself or by `stop`.
   *
   * @param {Float32Array<ArrayBuffer>} samples
   * @param {number} rate
   */
  async play(samples, rate) {
    this.stop();
    if (samples.length === 0) return;
    const opening = this.open();
    if (opening !== null) await opening;
    const context = /** @type {AudioContext} */ (this.#context);
    const gain = /** @type {GainNode} */ (this.#gain);
    const sound = context.createBuffer(1, samples.length, rate);
    sound.copyToChannel(samples, 0);
    this.#peak = samples.reduce((peak, sample) => Math.max(peak, Math.abs(sample)), 0);
    const source = context.createBufferSource();
    source.buffer = sound;
    gain.gain.cancelScheduledValues(0);
    gain.gain.value = gainFor(this.#volume, this.#peak);
    source.connect(gain);
    source.addEventListener("ended", () => this.#end(source));
    this.#source = source;
    source.start();
  }

  stop() {
    const source = this.#source;
    if (source === null) return;
    source.stop();
    this.#end(source);
  }

  close() {
    this.stop();
    void this.#context?.close();
    this.#context = null;
    this.#gain = null;
  }

  /** @param {AudioBufferSourceNode} source */
  #end(source) {
    source.disconnect();
    if (this.#source !== source) return;
    this.#source = null;
    this.dispatchEvent(new Event("ended"));
  }
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
