// What goes up to the station from this browser: the journal that is being written, and what earlier
// pages left. What is left of a reading goes first, so that its takes keep their order.

import { LATE, OTHER_TAB, TAKEN_BY_TAB } from "../texts/recorder.js";
import { aboutJournal, Journal, journalsHere, removeJournal } from "./journal.js";
import { takeLock } from "./locks.js";
import { Wire } from "./wire.js";

/** @typedef {import("../messages.js").StandingDetail} StandingDetail */

const PRACTICE = "practice:";
/** A page that was left lets go of its locks a moment later. */
const LOCK_WAIT_MS = 3000;
/** A line that is away for so short a time is no news. */
const AWAY_MS = 1500;

/**
 * A journal that an earlier page left, or that this page may not go on with.
 * @typedef {{journal: Journal, wire: Wire, letGo: () => void, done: () => void}} Leftover
 */

export class Sending {
  /** @type {Leftover[]} */ #left = [];
  /** @type {Wire | null} */ #wire = null;
  /** @type {(() => void) | null} */ #letGoOfPlace = null;
  /** @type {() => void} */ #letGoOfJournal = () => {};
  #keptBeforeS = 0;
  #awaySince = performance.now();
  /** @type {{station: "busy" | "superseded", sentence: string} | null} */ #otherTab = null;
  #isClosed = false;
  #changed;
  #stopRolling;

  /** What is being written; null where nothing is recorded. @type {Journal | null} */
  journal = null;

  /**
   * @param {{place: string, wire: string}} reading
   * @param {() => void} changed
   * @param {() => void} stopRolling this page may not go on: its take is to be sealed
   */
  constructor({ place, wire }, changed, stopRolling) {
    this.place = place;
    this.address = wire;
    this.#changed = changed;
    this.#stopRolling = stopRolling;
  }

  /**
   * Begin to send.
   * @param {string | null} pass null: only what is left
   */
  async open(pass) {
    if (pass !== null) await this.#takePlace(false);
    const before = await this.#openLeft();
    if (pass === null) return;
    await this.#begin(pass);
    void Promise.all(before).then(() => this.#startWire(false));
  }

  /** Why nothing may be rolled just now; empty if it may. */
  get refusal() {
    const { station, sentence } = this.standing();
    return ["busy", "superseded", "refused", "late"].includes(station) ? sentence || station : "";
  }

  /**
   * Go on here with a reading that another page or browser has.
   * @param {string} pass a fresh one: what was recorded meanwhile is known to it
   */
  async takeOver(pass) {
    await this.#takePlace(true);
    this.#retire();
    const before = await this.#openLeft();
    await this.#begin(pass);
    // What another tab still has goes first, if it can: not for ever, since it may never.
    const soon = new Promise((done) => setTimeout(done, LOCK_WAIT_MS));
    await Promise.race([Promise.all(before), soon]);
    this.#startWire(true);
  }

  /** Send what is new. */
  wake() {
    this.#wire?.wake();
    for (const { wire } of this.#left) wire.wake();
  }

  hurry() {
    this.#wire?.hurry();
    for (const { wire } of this.#left) wire.hurry();
  }

  flush() {
    this.journal?.flush();
  }

  /** @returns {StandingDetail} */
  standing() {
    const here = this.#left.filter(
      ({ journal, wire }) => journal.about.place === this.place && wire.station !== "refused",
    );
    const journals = here.map(({ journal }) => journal);
    if (this.journal !== null) journals.push(this.journal);
    const told = this.#wire ?? here[0]?.wire;
    let station = told?.station ?? "well";
    let sentence = told?.sentence ?? "";
    const nowMs = performance.now();
    if (station === "late") sentence = LATE;
    if (station !== "away") this.#awaySince = nowMs;
    else if (nowMs - this.#awaySince < AWAY_MS) station = "well";
    if (this.#otherTab !== null) ({ station, sentence } = this.#otherTab);
    return {
      station,
      sentence,
      behindS: journals.reduce((sum, { behindSamples, rate }) => sum + behindSamples / rate, 0),
      keptS: journals.reduce((sum, { keptSamples, rate }) => sum + keptSamples / rate, this.#keptBeforeS),
      queuedBytes: journals.reduce((sum, { behindBytes }) => sum + behindBytes, 0),
    };
  }

  async close() {
    this.#isClosed = true;
    this.#wire?.stop();
    for (const { wire } of this.#left) wire.stop();
    const { journal } = this;
    this.journal = null;
    if (journal !== null) {
      if (journal.isAllKept && !journal.isOpen) await journal.remove();
      else await journal.close();
    }
    for (const left of this.#left) await left.journal.close();
    this.#letGoOfJournal();
    this.#letGoOfPlace?.();
  }

  /** @param {boolean} steal */
  async #takePlace(steal) {
    if (this.#letGoOfPlace !== null) return;
    this.#letGoOfPlace = await takeLock(`quietleaf:${this.place}`, {
      steal,
      waitMs: LOCK_WAIT_MS,
      onLost: () => {
        this.#letGoOfPlace = null;
        this.#otherTab = { station: "superseded", sentence: TAKEN_BY_TAB };
        this.#stopRolling();
        this.#retire();
        this.#changed();
      },
    });
    const isOther = this.#letGoOfPlace === null;
    this.#otherTab = isOther ? { station: "busy", sentence: OTHER_TAB } : null;
  }

  /** @param {string} pass */
  async #begin(pass) {
    if (this.#otherTab !== null) return;
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    const id = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    this.#letGoOfJournal = (await takeLock(lockOf(id))) ?? (() => {});
    const { place, address: wire } = this;
    this.journal = await Journal.create({ place, pass, wire, made: new Date().toISOString() }, id);
  }

  /** @param {boolean} takeOver */
  #startWire(takeOver) {
    if (this.#isClosed || this.journal === null || this.#wire !== null) return;
    const wire = new Wire(this.journal, {
      takeOver,
      onChange: () => {
        // What is not sealed now would stay open for ever: its rest goes into another reading.
        if (wire.station === "superseded" || wire.station === "late") this.#stopRolling();
        this.#changed();
      },
    });
    this.#wire = wire;
  }

  /** Write no more into the journal; what is in it still goes up. */
  #retire() {
    const { journal } = this;
    this.#wire?.stop();
    this.#wire = null;
    this.journal = null;
    if (journal === null) return;
    const letGo = this.#letGoOfJournal;
    this.#letGoOfJournal = () => {};
    journal.flush();
    void this.#drain(journal, letGo);
  }

  /**
   * Find what is left in this browser, and begin to send it.
   * @returns {Promise<Promise<void>[]>} each is kept when that journal of this reading is sent
   */
  async #openLeft() {
    const known = new Set(this.#left.map(({ journal }) => journal.id));
    if (this.journal !== null) known.add(this.journal.id);
    /** @type {Promise<void>[]} */
    const sent = [];
    await Promise.all(
      (await journalsHere()).map(async (id) => {
        if (known.has(id)) return;
        const about = await aboutJournal(id);
        if (about?.place === this.place) {
          const journal = await this.#openOne(id, LOCK_WAIT_MS);
          if (journal !== null) sent.push(this.#drain(...journal));
        } else {
          // Another tab may be writing or sending it; when that is closed, it is sent from here.
          void this.#openOne(id).then((journal) => journal && this.#drain(...journal));
        }
      }),
    );
    return sent;
  }

  /**
   * @param {string} id
   * @param {number} [waitMs]
   * @returns {Promise<[Journal, () => void] | null>} null where there is nothing for this page
   */
  async #openOne(id, waitMs) {
    const letGo = await takeLock(lockOf(id), waitMs === undefined ? {} : { waitMs });
    if (letGo === null) return null;
    const journal = this.#isClosed ? null : await Journal.reopen(id).catch(() => null);
    if (journal !== null && journal.records > 0) return [journal, letGo];
    if (!this.#isClosed) await removeJournal(id);
    letGo();
    return null;
  }

  /**
   * Send what is in a journal that nobody writes into, then delete it.
   * @param {Journal} journal
   * @param {() => void} letGo
   * @returns {Promise<void>} kept when there is nothing more to wait for
   */
  #drain(journal, letGo) {
    return new Promise((done) => {
      const wire = new Wire(journal, {
        onWelcome: async (progress) => {
          journal.keep(progress);
          await journal.sealLeftOpen(progress);
        },
        onChange: () => this.#look(left),
      });
      const left = { journal, wire, letGo, done };
      this.#left.push(left);
    });
  }

  /** @param {Leftover} left */
  #look(left) {
    const { journal, wire, letGo, done } = left;
    if (!this.#left.includes(left)) return;
    const isPractice = journal.about.place.startsWith(PRACTICE);
    const isSent = wire.isOpen && journal.isAllKept && !journal.isOpen;
    if (isSent || (wire.station === "refused" && isPractice)) {
      this.#left.splice(this.#left.indexOf(left), 1);
      if (journal.about.place === this.place) this.#keptBeforeS += journal.keptSamples / journal.rate;
      wire.stop();
      void journal.remove().then(letGo);
      done();
    } else if (wire.station === "refused") {
      done();
    }
    this.#changed();
  }
}

/** @param {string} id */
function lockOf(id) {
  return `quietleaf:journal:${id}`;
}
