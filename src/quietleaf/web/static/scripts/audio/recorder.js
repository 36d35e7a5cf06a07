// The page's side of recording: asks the worker, and tells the page what it hears of it. Sound never
// comes by here.
//
// Events: `standing`, `heard`, `missing`, `lost-device`, `ended`, `stopped` (the take was ended, but
// not by hold), `little-room`, `fallback`. Their shapes: ../messages.js.

import { FALLBACK, FALLBACK_ORIGIN, GONE, NO_PASS } from "../texts/recorder.js";
import { watchMicrophone } from "./microphone.js";

/** @typedef {import("../messages.js").Side} Side */
/** @typedef {import("../messages.js").Asked} Asked */
/** @typedef {import("../messages.js").Answers} Answers */

/** So many blocks of 10 ms wait for the worker, at most, before the browser throws one away. */
const BLOCKS_MAX = 500;

export class Recorder extends EventTarget {
  #worker = new Worker(new URL("./capture.worker.js", import.meta.url), { type: "module" });
  /** @type {Map<number, {done: (answer: any) => void, failed: (fault: Error) => void}>} */
  #asked = new Map();
  #ids = 0;
  #already;
  /** @type {() => void} */ #stopListening = () => {};
  #isRolling = false;
  #rate = 0;
  /** @type {Side[]} */ #sides = [];
  /** @type {Side} */ #side = "left";
  #takeSamples = 0;
  #readingSamples = 0;

  /** @param {number} already samples of this reading that earlier pages recorded */
  constructor(already = 0) {
    super();
    this.#already = already;
    this.#worker.onmessage = ({ data }) => this.#hear(data);
    this.#worker.onerror = (event) => {
      for (const { failed } of this.#asked.values()) failed(new Error(event.message));
      this.#asked.clear();
    };
  }

  /**
   * Start recording into a reading, and send what is left in this browser.
   * @param {object} reading
   * @param {string | null} reading.pass null: only what is left is sent
   * @param {string} reading.place
   * @param {string} reading.wire
   * @param {string} reading.origin stands in each take
   * @param {number} [reading.already]
   * @param {number} [reading.leadInS] so much is played before a sentence that is read again
   * @returns {Promise<Recorder>}
   */
  static async open({ pass, place, wire, origin, already = 0, leadInS = 3 }) {
    const recorder = new Recorder(already);
    // Without it the browser may clear what is not yet sent when a disk runs full; it may say no.
    void navigator.storage?.persist?.().catch(() => false);
    await recorder.#ask({ kind: "open", pass, place, wire, origin, leadInS });
    return recorder;
  }

  get rate() {
    return this.#rate;
  }

  /** What the microphone's stream has. */
  get sides() {
    return this.#sides;
  }

  /** The one that is recorded. */
  get side() {
    return this.#side;
  }

  get rolling() {
    return this.#isRolling;
  }

  get takeSamples() {
    return this.#takeSamples;
  }

  get readingSamples() {
    return this.#already + this.#readingSamples;
  }

  /**
   * Listen to a track, held.
   * @param {MediaStreamTrack} track
   * @param {{side?: Side | null}} [how] which channel; null finds it
   */
  async listen(track, { side = null } = {}) {
    this.#stopListening();
    const { deviceId = "" } = track.getSettings();
    const stopWatching = watchMicrophone(track, deviceId, (code) => {
      if (code === "gone") void this.#lose();
    });
    let stopGraph = () => {};
    this.#stopListening = () => {
      stopWatching();
      stopGraph();
    };
    let heard;
    if ("MediaStreamTrackProcessor" in window) {
      const { readable } = new MediaStreamTrackProcessor({ track, maxBufferSize: BLOCKS_MAX });
      heard = await this.#ask({ kind: "listen", readable, side, origin: "" }, [readable]);
    } else {
      const graph = await audioGraph(track);
      stopGraph = graph.stop;
      this.#tell("fallback", { sentence: FALLBACK });
      const { port, rate } = graph;
      const origin = FALLBACK_ORIGIN;
      heard = await this.#ask({ kind: "listen-fallback", port, rate, side, origin }, [port]);
    }
    this.#rate = heard.rate;
    this.#sides = heard.sides;
    this.#side = heard.side;
  }

  /** @returns {Promise<{take: number}>} the take's number in this page, from 1 */
  async roll() {
    const rolled = await this.#ask({ kind: "roll" });
    if (!this.#isRolling) this.#takeSamples = 0;
    this.#isRolling = true;
    return rolled;
  }

  /**
   * @param {{broken?: boolean}} [how] broken: the reader did not wish it
   * @returns {Promise<{samples: number}>} length of the take
   */
  async hold({ broken = false } = {}) {
    const held = await this.#ask({ kind: "hold", broken });
    this.#isRolling = false;
    this.#takeSamples = held.samples;
    return held;
  }

  /** @param {string} title */
  async markArticle(title) {
    await this.#ask({ kind: "article", title });
  }

  /** @param {import("../messages.js").Which} which */
  async markWords(which) {
    await this.#ask({ kind: "words", which });
  }

  /**
   * Take a sentence again: from its start, or from that of a place of the strip; pressed while the
   * lead-in plays, from one sentence further back. While held, rolling begins.
   * @param {{at?: import("../core/again.js").At | null}} [how]
   * @returns {Promise<import("../messages.js").Pressed>}
   */
  async again({ at = null } = {}) {
    const pressed = await this.#ask({ kind: "again", at });
    if (!this.#isRolling) this.#takeSamples = 0;
    this.#isRolling = true;
    return pressed;
  }

  /**
   * What is recorded from now on is read again, for an entry of the ledger.
   * @param {number} readFor
   * @param {number} beforeS so much of what comes before it can be played
   */
  async readAgainFor(readFor, beforeS) {
    await this.#ask({ kind: "read-again-for", readFor, beforeS });
  }

  /** The lead-in was heard to its end: the programme goes on from here. */
  async againLed() {
    await this.#ask({ kind: "again-led" });
  }

  /**
   * Have the old sentence back; what was heard since the press is left out.
   * @returns {Promise<{undone: boolean}>}
   */
  againUndo() {
    return this.#ask({ kind: "again-undo" });
  }

  /**
   * What is still in memory of a part of a take: the last two minutes that were recorded.
   * @param {import("../messages.js").Place} place
   * @returns {Promise<{samples: Float32Array<ArrayBuffer>, rate: number}>}
   */
  recent(place) {
    return this.#ask({ kind: "recent", place });
  }

  /** Go on here with a reading that another browser, or another tab, has. */
  async takeOver() {
    // A pass of now: what the other one recorded since this page was opened is known to it.
    const answer = await fetch("/stand/pass", { method: "POST" });
    if (!answer.ok) throw new Error(NO_PASS);
    const { pass } = await answer.json();
    await this.#ask({ kind: "take-over", pass });
  }

  /** End everything; what is not sent yet stays in this browser. */
  close() {
    this.#stopListening();
    void this.#ask({ kind: "close" }).finally(() => this.#worker.terminate());
  }

  async #lose() {
    this.#stopListening();
    if (this.#isRolling) await this.hold({ broken: true });
    this.#tell("lost-device", { sentence: GONE });
  }

  /**
   * @template {Asked} A
   * @param {A} asked
   * @param {Transferable[]} handedOver
   * @returns {Promise<Answers[A["kind"]]>}
   */
  #ask(asked, handedOver = []) {
    this.#ids += 1;
    const id = this.#ids;
    return new Promise((done, failed) => {
      this.#asked.set(id, { done, failed });
      this.#worker.postMessage({ ...asked, id }, handedOver);
    });
  }

  /** @param {import("../messages.js").FromWorker} told */
  #hear(told) {
    switch (told.kind) {
      case "done":
        this.#asked.get(told.id)?.done(told.answer);
        this.#asked.delete(told.id);
        return;
      case "failed":
        this.#asked.get(told.id)?.failed(new Error(told.sentence));
        this.#asked.delete(told.id);
        return;
      case "heard":
        this.#takeSamples = told.takeSamples;
        this.#readingSamples = told.readingSamples;
        return this.#tell("heard", { ...told.snapshot, again: told.again });
      case "stopped":
        this.#isRolling = false;
        this.#takeSamples = told.takeSamples;
        this.#readingSamples = told.readingSamples;
        return this.#tell("stopped", {});
      case "standing":
        return this.#tell("standing", told.detail);
      case "missing":
        return this.#tell("missing", { missingS: told.missingS, reason: told.reason });
      case "little-room":
        return this.#tell("little-room", { sentence: told.sentence });
      case "ended":
        return this.#tell("ended", {});
    }
  }

  /**
   * @param {string} name
   * @param {object} detail
   */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

/**
 * Lead a track through the audio graph to a port.
 * @param {MediaStreamTrack} track
 */
export async function audioGraph(track) {
  const { sampleRate } = track.getSettings();
  const context = new AudioContext(sampleRate === undefined ? {} : { sampleRate });
  await context.audioWorklet.addModule(new URL("./fallback.worklet.js", import.meta.url));
  const capture = new AudioWorkletNode(context, "quietleaf-capture", { numberOfOutputs: 0 });
  const { port1, port2 } = new MessageChannel();
  capture.port.postMessage(port1, [port1]);
  context.createMediaStreamSource(new MediaStream([track])).connect(capture);
  await context.resume();
  return { port: port2, rate: context.sampleRate, stop: () => void context.close() };
}
