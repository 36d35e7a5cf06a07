// Takes as they are spoken: while held half a second lies in memory alone; while rolling every sample
// goes into the journal, with what went missing.

import {
  againHeard,
  againLed,
  againStart,
  againWritten,
  canUndo,
  dropAll,
  outsideOf,
  pressAgain,
  programmeSamples,
  startAgain,
  undoAgain,
} from "../core/again.js";
import { channelOf, isDecided, sideOf, sidesStep, startSides } from "../core/channels.js";
import { gapsDue, gapsStep, startGaps } from "../core/gaps.js";
import { liveRolls, liveSnapshot, liveStep, startLive } from "../core/live.js";
import {
  addRecent,
  emptyRecent,
  joined,
  joinedSoftly,
  newestOf,
  oldestOf,
  recentPart,
  startRecent,
} from "../core/recent.js";
import { CHUNK_SAMPLES, int24Bytes } from "../core/records.js";
import { LIKELY } from "../core/sentence_model.js";
import { breakOff, goOn, sentencesStep, startSentences } from "../core/sentences.js";
import { NO_MICROPHONE, NOT_NOW, NOT_ROLLING } from "../texts/recorder.js";

/** @typedef {import("../messages.js").Side} Side */
/** @typedef {import("./journal.js").Journal} Journal */

const BEFORE_S = 0.5;
/** Enough for a lead-in some sentences back, and for what was rejected since. */
const RECENT_S = 120;
const SOFT_S = 0.01;
const SHOWN_S = 30;
const HEARD_A_SECOND = 10;
/** Less is written down, and nothing that a reader could do anything about. */
const TOLD_S = 0.1;

export class Taking {
  /** @type {() => Journal | null} */ #journal;
  /** @type {(message: import("../messages.js").FromWorker) => void} */ #tell;
  #side = /** @type {Side} */ ("left");
  #sideIsGiven = false;
  #sidesHeard = startSides();
  #channels = 0;
  #origin = "";
  #gaps = startGaps(1);
  #live = startLive(48_000);
  #liveBeforeS = 0;
  #before = startRecent(1);
  #recent = startRecent(1);
  /** @type {Float32Array[]} */ #pending = [];
  #pendingSamples = 0;
  #takeStart = 0;
  #heardSamples = 0;
  #leadInS = 0;
  /** @type {{readFor: number, beforeS: number} | null} */ #sentBack = null;
  #isFresh = true;
  #again = startAgain(1, 0);
  #sentences = startSentences(48_000);
  /** @type {Journal | null} */ #againIn = null;
  #takesBefore = 0;
  #readBefore = 0;
  /** @type {number[]} where each take begins on the clock that runs while rolling */ #takesFromS = [];

  rate = 0;
  isRolling = false;
  take = 0;
  takeSamples = 0;
  readingSamples = 0;

  /**
   * @param {() => Journal | null} journal that is written into
   * @param {(message: import("../messages.js").FromWorker) => void} tell
   */
  constructor(journal, tell) {
    this.#journal = journal;
    this.#tell = tell;
  }

  get side() {
    return this.#side;
  }

  /** @param {number} seconds how long a lead-in is */
  set leadInS(seconds) {
    this.#leadInS = seconds;
    this.#forgetPlaces();
  }

  /**
   * What is recorded from now on is read again, for an entry of the ledger.
   * @param {number} readFor
   * @param {number} beforeS so much of what comes before it can be played
   */
  readAgainFor(readFor, beforeS) {
    this.breakOff();
    this.#sentBack = { readFor, beforeS };
    this.#forgetPlaces();
  }

  /** @returns {Side[]} what the microphone's stream has */
  get sides() {
    return this.#channels > 1 ? ["left", "right"] : ["left"];
  }

  /**
   * Another track is listened to from now on.
   * @param {Side | null} side null: found by listening
   * @param {string} origin
   */
  begin(side, origin) {
    this.breakOff();
    this.#side = side ?? "left";
    this.#sideIsGiven = side !== null;
    this.#sidesHeard = startSides();
    this.#origin = origin;
    // Whatever the rate is: the next block says it.
    this.#gaps = startGaps(this.rate || 1);
    emptyRecent(this.#before);
  }

  /**
   * @param {import("./source.js").SourceBlock} block
   * @param {number} nowMs when it came
   * @param {number} dateMs
   */
  hear({ channels, rate, stampUs }, nowMs, dateMs) {
    if (rate !== this.rate) this.#changeRate(rate);
    this.#channels = channels.length;
    if (!this.#sideIsGiven && !this.isRolling && !isDecided(this.#sidesHeard, rate)) {
      this.#side = sideOf(sidesStep(this.#sidesHeard, channels));
    }
    const samples = channelOf(channels, this.#side);
    this.#missing(gapsStep(this.#gaps, { samples: samples.length, stampUs, nowMs, dateMs }));
    liveStep(this.#live, samples, this.isRolling);
    if (this.isRolling) this.#record(samples);
    else addRecent(this.#before, { take: 0, first: 0, samples });
    this.#heardSamples += samples.length;
    if (this.#heardSamples * HEARD_A_SECOND >= rate) {
      this.#heardSamples = 0;
      this.#tellHeard();
    }
  }

  /** @returns {number} the take's number in this page */
  roll() {
    if (this.isRolling) return this.take;
    const journal = this.#journal();
    if (journal === null) throw new Error(NOT_NOW);
    if (this.rate === 0 || this.#channels === 0) throw new Error(NO_MICROPHONE);
    const before = newestOf(this.#before);
    emptyRecent(this.#before);
    this.take += 1;
    this.takeSamples = 0;
    if (journal !== this.#againIn) {
      // What another journal holds has no place in the entries of this one.
      this.#forgetPlaces();
      this.#againIn = journal;
      this.#takesBefore = this.take - 1;
    }
    this.#takesFromS[this.take] = this.#rolledS();
    this.#takeStart = this.#gaps.position - before.length;
    journal.addEntry({ what: "rolled", rate: this.rate, origin: this.#origin, ...this.#apart() });
    liveRolls(this.#live, this.take, before.length);
    // Who reads is known over a hold.
    this.#sentences = startSentences(this.rate, this.#sentences.reader);
    this.isRolling = true;
    this.#record(before);
    return this.take;
  }

  /** What a take stands apart for; a try goes on until another begins. */
  #apart() {
    if (this.#sentBack === null) return {};
    const fresh = this.#isFresh;
    this.#isFresh = false;
    return { readFor: this.#sentBack.readFor, fresh };
  }

  /** @returns {number} how long the take is */
  hold() {
    if (!this.isRolling) return this.takeSamples;
    this.#missing(gapsDue(this.#gaps));
    this.#write();
    this.led();
    this.isRolling = false;
    const journal = this.#journal();
    journal?.addEntry({ what: "sealed", samples: this.takeSamples });
    journal?.flush();
    return this.takeSamples;
  }

  /**
   * The take ends, and not because its reader held: a sentence that is read again is not whole then,
   * and the old one stays.
   *
   * @returns {number} how long the take is
   */
  breakOff() {
    if (this.isRolling && this.#sentBack !== null) this.#enter(dropAll(this.#again, this.#now()));
    return this.hold();
  }

  /** @param {{what: "article", title: string} | {what: "words", which: import("../messages.js").Which}} mark */
  mark(mark) {
    const journal = this.#journal();
    if (!this.isRolling || journal === null) throw new Error(NOT_ROLLING);
    this.#write();
    journal.addEntry({ ...mark, sample: this.takeSamples });
  }

  /**
   * Go back to the start of a sentence; while held, rolling begins with it.
   * @param {import("../core/again.js").At | null} picked
   * @returns {import("../messages.js").Pressed}
   */
  again(picked) {
    const wasHeld = !this.isRolling;
    if (wasHeld) this.roll();
    // The half second before a press while held was to hear nothing but the room.
    const now = wasHeld ? { take: this.take, sample: 0 } : this.#now();
    const soundFrom = oldestOf(this.#recent) ?? now;
    const pressed = pressAgain(this.#again, now, { picked, soundFrom });
    const { entry, leadIn, before, further, known } = pressed;
    this.#enter(entry);
    breakOff(this.#sentences);
    const parts = leadIn.map(({ from, to }) =>
      this.recent({ takeIndex: from.take, start: from.sample, stop: to.sample }),
    );
    const samples = joinedSoftly(parts, Math.round(SOFT_S * this.rate));
    const backS = this.#clockOf({ take: entry.backTake, sample: entry.backSample });
    const beforeS = before / this.rate;
    return { leadIn: { samples, rate: this.rate }, beforeS, backS, further, known };
  }

  /** The lead-in has been heard to its end. */
  led() {
    const entry = againLed(this.#again, this.#now());
    if (entry !== null) goOn(this.#sentences);
    this.#enter(entry);
  }

  /** @returns {boolean} whether the old sentence is back */
  undo() {
    const entry = undoAgain(this.#again, this.#now());
    if (entry !== null) goOn(this.#sentences);
    this.#enter(entry);
    return entry !== null;
  }

  /** @param {import("../messages.js").Place} place */
  recent(place) {
    return recentPart(this.#recent, place);
  }

  /** @param {Float32Array} samples */
  #record(samples) {
    const first = this.takeSamples;
    this.takeSamples += samples.length;
    this.readingSamples += samples.length;
    againHeard(this.#again, this.take, this.takeSamples);
    this.#findStarts(samples);
    addRecent(this.#recent, { take: this.take, first, samples });
    this.#pending.push(samples);
    this.#pendingSamples += samples.length;
    if (this.#pendingSamples >= CHUNK_SAMPLES) this.#write(CHUNK_SAMPLES);
  }

  /**
   * Write what is pending into the journal.
   * @param {number} least a rest smaller than this stays
   */
  #write(least = 1) {
    if (this.#pendingSamples < least) return;
    const pending = joined(this.#pending);
    const journal = this.#journal();
    let at = 0;
    while (pending.length - at >= least) {
      const chunk = pending.subarray(at, at + CHUNK_SAMPLES);
      journal?.addSound(int24Bytes(chunk), chunk.length);
      at += chunk.length;
    }
    this.#pending = [pending.subarray(at)];
    this.#pendingSamples = pending.length - at;
  }

  /** @param {import("../core/gaps.js").Gap[]} gaps */
  #missing(gaps) {
    for (const { at, samples, reason } of gaps) {
      const sample = at - this.#takeStart;
      // While held nothing was wanted.
      if (!this.isRolling || sample < 0) continue;
      this.#write();
      this.#journal()?.addEntry({ what: "missing", sample, samples, reason });
      const missingS = samples / this.rate;
      if (missingS >= TOLD_S) this.#tell({ kind: "missing", missingS, reason });
    }
  }

  /** @param {number} rate */
  #changeRate(rate) {
    const wasRolling = this.isRolling;
    // A take has one rate for good.
    this.breakOff();
    this.#liveBeforeS += liveSnapshot(this.#live).secondsRolled;
    this.rate = rate;
    this.#gaps = startGaps(rate);
    this.#live = startLive(rate);
    this.#before = startRecent(Math.round(BEFORE_S * rate));
    this.#recent = startRecent(RECENT_S * rate);
    // What was recorded at another rate is not gone back into.
    this.#forgetPlaces();
    if (wasRolling) this.roll();
  }

  #now() {
    return { take: this.take, sample: this.takeSamples };
  }

  #rolledS() {
    return this.#liveBeforeS + liveSnapshot(this.#live).secondsRolled;
  }

  #forgetPlaces() {
    this.#readBefore += programmeSamples(this.#again) / this.#again.rate;
    this.#again = startAgain(this.rate || 1, this.#leadInS, this.#sentBack?.beforeS);
    this.#isFresh = true;
  }

  /** @param {import("../core/again.js").AgainEntry | null} entry */
  #enter(entry) {
    const journal = this.#journal();
    if (entry === null || journal === null) return;
    this.#write();
    againWritten(this.#again, journal.entries);
    const [take, backTake] = [entry.take - this.#takesBefore, entry.backTake - this.#takesBefore];
    journal.addEntry({ ...entry, take, backTake });
  }

  /** @param {Float32Array} samples of this take */
  #findStarts(samples) {
    const { take } = this;
    const found = sentencesStep(this.#sentences, samples);
    for (const { place, pauseStart, pauseStop, likelihood } of found) {
      againStart(this.#again, {
        from: { take, sample: pauseStart },
        place: { take, sample: place },
        onset: { take, sample: pauseStop },
        likelihood,
      });
    }
  }

  /** @param {import("../core/again.js").At} place */
  #clockOf({ take, sample }) {
    return (this.#takesFromS[take] ?? 0) + sample / this.#again.rate;
  }

  #againSeen() {
    const now = this.#now();
    const rolledS = this.#rolledS();
    return {
      starts: this.#again.starts
        .filter(({ likelihood }) => likelihood >= LIKELY)
        .map(({ place }) => this.#clockOf(place))
        .filter((placeS) => placeS > rolledS - SHOWN_S),
      outside: outsideOf(this.#again)
        .map(({ from, to }) => ({ startS: this.#clockOf(from), stopS: this.#clockOf(to) }))
        .filter(({ stopS }) => stopS > rolledS - SHOWN_S),
      secondsRead: this.#readBefore + programmeSamples(this.#again) / this.#again.rate,
      leading: this.#again.isLeading,
      canUndo: canUndo(this.#again, now),
    };
  }

  #tellHeard() {
    const snapshot = liveSnapshot(this.#live);
    const beforeS = this.#liveBeforeS;
    snapshot.secondsRolled += beforeS;
    for (const run of snapshot.runs) {
      run.startS += beforeS;
      if (run.stopS !== null) run.stopS += beforeS;
    }
    const { takeSamples, readingSamples } = this;
    const again = this.#againSeen();
    this.#tell({ kind: "heard", snapshot, again, takeSamples, readingSamples });
  }
}
