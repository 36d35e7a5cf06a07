// The line to the station: sends what a journal has, in its order, until the station has it on its
// disk; and comes again by itself after any break.

/** @typedef {import("./journal.js").Journal} Journal */
/** @typedef {import("../messages.js").Station} Station */
/** @typedef {import("../messages.js").Progress} Progress */

const PING_MS = 500;
const DEAD_MS = 4000;
const BACK_OFF_MS = 250;
const BACK_OFF_MS_MAX = 2000;
const TRY_AGAIN_MS = 2000;
/** A station needs a moment to see that the page before this one has gone. */
const BUSY_AT_FIRST_MS = 400;
const BUFFERED_MAX = 1 << 20;
const BUFFERED_LOOK_MS = 20;

export class Wire {
  /** @type {WebSocket | null} */ #socket = null;
  /** @type {import("./journal.js").Cursor} */ #cursor;
  /** @type {ReturnType<typeof setInterval> | null} */ #pinging = null;
  /** @type {ReturnType<typeof setTimeout> | null} */ #again = null;
  #answeredAt = 0;
  #pings = 0;
  #backOffMs = BACK_OFF_MS;
  #isWelcome = false;
  #isPouring = false;
  #isPouringAgain = false;
  #busyTimes = 0;
  #stopped = false;
  #takeOver;
  #changed;

  /** @type {Station} */ station = "away";
  sentence = "";

  /**
   * @param {Journal} journal
   * @param {object} how
   * @param {boolean} [how.takeOver]
   * @param {(progress: Progress) => Promise<void>} [how.onWelcome] before anything is sent
   * @param {() => void} how.onChange
   */
  constructor(journal, { takeOver = false, onWelcome, onChange }) {
    this.journal = journal;
    this.#cursor = journal.cursor();
    this.#takeOver = takeOver;
    this.onWelcome = onWelcome;
    this.#changed = onChange;
    this.#connect();
  }

  /** Whether this line is at its end: it is not opened again. */
  get isOver() {
    return this.#stopped || this.station === "refused";
  }

  /** Whether the station listens to this line now. */
  get isOpen() {
    return this.#isWelcome;
  }

  /** Send what is new: several records together, since each message costs the station a little. */
  wake() {
    void this.#pour();
  }

  /** The network is said to be there again. */
  hurry() {
    if (this.#again !== null && this.station === "away") this.#connect();
  }

  stop() {
    this.#stopped = true;
    this.#drop();
    if (this.#again !== null) clearTimeout(this.#again);
    this.#again = null;
  }

  #connect() {
    if (this.#again !== null) clearTimeout(this.#again);
    this.#again = null;
    if (this.isOver) return;
    const { about, id } = this.journal;
    const address = new URL(about.wire, self.location.href);
    address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
    const socket = new WebSocket(address);
    this.#socket = socket;
    this.#answeredAt = performance.now();
    socket.onopen = () => {
      this.#say({ kind: "hello", pass: about.pass, journal: id, takeOver: this.#takeOver });
    };
    socket.onmessage = ({ data }) => {
      this.#answeredAt = performance.now();
      void this.#hear(JSON.parse(data), socket);
    };
    socket.onclose = () => this.#lost();
    this.#pinging = setInterval(() => this.#ping(), PING_MS);
  }

  #ping() {
    // A line that is not even open yet is held to the same: it may lead into nothing.
    if (performance.now() - this.#answeredAt > DEAD_MS) {
      this.#lost();
    } else if (this.#isWelcome) {
      this.#pings += 1;
      this.#say({ kind: "ping", id: this.#pings });
    }
  }

  #drop() {
    if (this.#pinging !== null) clearInterval(this.#pinging);
    this.#pinging = null;
    this.#isWelcome = false;
    const socket = this.#socket;
    this.#socket = null;
    if (socket === null) return;
    socket.onopen = socket.onmessage = socket.onclose = null;
    socket.close();
  }

  #lost() {
    this.#drop();
    if (this.isOver) return;
    if (this.station === "well") this.#become("away", "");
    this.#openIn(this.#waitMs());
  }

  #waitMs() {
    if (this.station === "trouble") return TRY_AGAIN_MS;
    if (this.station === "busy") return TRY_AGAIN_MS;
    if (this.#busyTimes === 1) return BUSY_AT_FIRST_MS;
    const ms = this.#backOffMs;
    this.#backOffMs = Math.min(2 * ms, BACK_OFF_MS_MAX);
    return ms;
  }

  /** @param {number} ms */
  #openIn(ms) {
    if (this.#again !== null) clearTimeout(this.#again);
    this.#again = setTimeout(() => this.#connect(), ms);
  }

  /**
   * @param {import("../messages.js").FromStation} told
   * @param {WebSocket} socket that it came by
   */
  async #hear(told, socket) {
    switch (told.kind) {
      case "welcome":
        this.#backOffMs = BACK_OFF_MS;
        this.#busyTimes = 0;
        this.#takeOver = false;
        await this.onWelcome?.(told);
        if (this.#socket !== socket) return;
        this.#sendFrom(told);
        this.#isWelcome = true;
        if (this.station === "superseded") {
          this.#changed();
        } else if (this.station !== "trouble" || this.journal.isAllKept) {
          this.#become(told.late ? "late" : "well", "");
        }
        return this.#pour();
      case "kept":
        this.journal.keep(told);
        if (this.station === "trouble") this.#become("well", "");
        return this.#changed();
      case "resend":
        this.#sendFrom(told);
        return this.#pour();
      case "busy":
        this.#busyTimes += 1;
        // The page before this one may be on the line for a moment longer.
        if (this.#busyTimes > 1) this.#become("busy", told.sentence);
        return;
      case "superseded":
      case "trouble":
      case "refused":
        this.#become(told.kind, told.sentence);
        if (told.kind === "refused") this.#drop();
        return;
      case "pong":
    }
  }

  /** @param {Progress} progress */
  #sendFrom(progress) {
    this.journal.keep(progress);
    this.#cursor = this.journal.cursor();
  }

  async #pour() {
    if (this.#isPouring) {
      this.#isPouringAgain = true;
      return;
    }
    this.#isPouring = true;
    try {
      do {
        this.#isPouringAgain = false;
        await this.#pourOnce();
      } while (this.#isPouringAgain);
    } catch {
      // What lies in the browser's store cannot be read just now: the next line tries again.
      this.#lost();
    } finally {
      this.#isPouring = false;
    }
  }

  async #pourOnce() {
    while (this.#isWelcome && this.#socket !== null) {
      const socket = this.#socket;
      if (socket.bufferedAmount > BUFFERED_MAX) {
        await new Promise((done) => setTimeout(done, BUFFERED_LOOK_MS));
        continue;
      }
      const before = this.#cursor;
      const next = await this.journal.message(before);
      if (next === null) return;
      // Meanwhile the station may have asked for something else, or be on another line.
      if (this.#cursor !== before || this.#socket !== socket || !this.#isWelcome) continue;
      this.#cursor = next.cursor;
      socket.send(next.bytes);
    }
  }

  /** @param {import("../messages.js").ToStation} message */
  #say(message) {
    if (this.#socket?.readyState === WebSocket.OPEN) this.#socket.send(JSON.stringify(message));
  }

  /**
   * @param {Station} station
   * @param {string} sentence
   */
  #become(station, sentence) {
    this.station = station;
    this.sentence = sentence;
    this.#changed();
  }
}
