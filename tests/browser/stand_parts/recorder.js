// In place of the recorder, where a state is to be shown that sound cannot be made to bring about:
// the test says what happened, and sees what was asked.

export class Recorder extends EventTarget {
  rate = 44100;
  sides = ["left"];
  rolling = false;
  takeSamples = 0;
  readingSamples = 0;
  /** @type {unknown[][]} */ asked = [];
  /** How long its lead-in is, and whether all of it is in memory. */
  leadInS = 3;
  known = true;
  backS = 0;
  beforeS = 0;
  #take = 0;
  #leading = false;

  /** @param {unknown} given */
  static async open(given) {
    const recorder = new Recorder();
    recorder.asked.push(["open", given]);
    Object.assign(window, { recorder });
    return recorder;
  }

  async listen() {
    this.asked.push(["listen"]);
  }

  async roll() {
    this.asked.push(["roll"]);
    this.rolling = true;
    this.#take += 1;
    return { take: this.#take };
  }

  async hold() {
    this.asked.push(["hold"]);
    this.rolling = this.#leading = false;
    return { samples: 0 };
  }

  /** @param {string} title */
  async markArticle(title) {
    this.asked.push(["article", title]);
  }

  /** @param {string} which */
  async markWords(which) {
    this.asked.push(["words", which]);
  }

  /** @param {unknown} place */
  async recent(place) {
    this.asked.push(["recent", place]);
    return { samples: new Float32Array(44100).fill(0.1), rate: this.rate };
  }

  /** @param {{at: unknown}} how */
  async again({ at }) {
    this.asked.push(["again", at]);
    const further = this.#leading && at === null;
    this.rolling = this.#leading = true;
    const samples = new Float32Array(this.leadInS * this.rate).fill(0.1);
    return { leadIn: { samples, rate: this.rate }, beforeS: this.beforeS, backS: this.backS, further, known: this.known };
  }

  async againLed() {
    this.asked.push(["again led"]);
    this.#leading = false;
  }

  async againUndo() {
    this.asked.push(["again undo"]);
    this.#leading = false;
    return { undone: true };
  }

  async takeOver() {
    this.asked.push(["take over"]);
  }

  close() {
    this.asked.push(["close"]);
  }

  /**
   * @param {string} name
   * @param {unknown} detail
   */
  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  /**
   * Hear sentences of 4 s with pauses of 1 s, up to a moment of what was rolled.
   *
   * @param {number} secondsRolled
   * @param {object} more
   */
  hear(secondsRolled, more = {}) {
    const runs = [];
    for (let startS = Math.max(0, 5 * Math.floor(secondsRolled / 5) - 25); startS < secondsRolled; startS += 5) {
      const stopS = startS + 1.5 + 2.5 * Math.abs(Math.sin(startS));
      const open = stopS > secondsRolled;
      runs.push({
        startS,
        stopS: open ? null : stopS,
        take: 1,
        startSample: Math.round(startS * this.rate),
        stopSample: open ? null : Math.round(stopS * this.rate),
      });
    }
    this.tell("heard", {
      levelDbov: -26,
      peak: 0.3,
      clipped: 0,
      speaking: true,
      floorDbov: -62,
      voiceDbov: -25,
      rolling: this.rolling,
      secondsRolled,
      silentS: 0,
      wordRateHint: 155,
      runs,
      again: {
        starts: [],
        outside: [],
        secondsRead: secondsRolled,
        leading: this.#leading,
        canUndo: this.#leading,
      },
      ...more,
    });
  }

  /**
   * @param {number} secondsRolled
   * @param {object} more
   */
  hearAll(secondsRolled, more = {}) {
    // Two draws: what is drawn waits for five events.
    for (let event = 0; event < 10; event += 1) this.hear(secondsRolled, more);
  }
}
