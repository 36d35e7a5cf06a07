// The stand: wires recorder, keys, clock and page together, and stops them all. What happens when
// is decided in core/standing.js; what it looks like is parts/stand-view.js.

import { lastAtStation, lastRuns, sentBackInPlace, soundOf } from "../audio/hear_it.js";
import { LeadIns } from "../audio/lead_ins.js";
import { Playback } from "../audio/playback.js";
import { openMicrophone, watchMicrophone } from "../audio/microphone.js";
import { Recorder } from "../audio/recorder.js";
import { adviceStep, startAdvice } from "../core/advice.js";
import { edgesOf } from "../core/edges.js";
import { KeptLine } from "../core/kept.js";
import { FIRST_KEYS, PEDALS, actionOf, typesCharacter } from "../core/keys.js";
import { Owner } from "../core/owner.js";
import { knownPace, mixedPace, reckon } from "../core/pacing.js";
import { Programme, isLeftOut } from "../core/programme.js";
import { following, nextUnread } from "../core/sent_back.js";
import { after, asked, begun, heardSaid, helpSaid, said, savedSaid } from "../core/standing.js";
import { KeySettings } from "../parts/key-settings.js";
import { StandView } from "../parts/stand-view.js";
import { TROUBLES } from "../texts/room.js";
import * as texts from "../texts/stand.js";

/**
 * @typedef {object} PageFacts What the station wrote into the page.
 * @property {string} place
 * @property {string} booth
 * @property {boolean} practice
 * @property {number} pages
 * @property {{shortestS: number, longestS: number} | null} window
 * @property {number[]} warningsMin
 * @property {number} restAfterMin
 * @property {number} paceWpm
 * @property {boolean} paceMeasured
 * @property {number} openingWords
 * @property {number} closingWords
 * @property {boolean} openingRead
 * @property {boolean} closingRead
 * @property {number} recordedS
 * @property {number} articles
 * @property {string} handIn
 * @property {number} leadInS
 * @property {{number: number, read: boolean}[]} sentBack
 * @property {"sentence" | "place"} sentBackUnit
 */

/** @typedef {import("../core/keys.js").Action} Action */
/** @typedef {import("../core/standing.js").Command} Command */
/** @typedef {import("../core/standing.js").Happening} Happening */
/** @typedef {import("../core/live.js").LiveSnapshot & {again: import("../messages.js").AgainSeen}} Heard */
/** @typedef {import("../core/live.js").Run} Run */
/** @typedef {import("../core/pacing.js").Pacing} Pacing */
/** @typedef {import("../core/standing.js").Standing} Standing */
/** @typedef {Awaited<ReturnType<typeof openMicrophone>>} Microphone */

// What is heard is told ten times a second: all that lasts a while here is counted by it.
const A_SECOND = 10;
const DRAWN_EVERY = A_SECOND / 2;
const NOTICE_LASTS = 6 * A_SECOND;
const MISSING_LASTS = 30 * A_SECOND;
const SAVED_EVERY = 5 * A_SECOND;
const VOICE_LASTS = 3 * A_SECOND;
/** What the last ones were like says more of what fits than all of them. */
const ARTICLES_KEPT = 12;
const SEEN_EVERY_MS = 3000;
/** What was just recorded is with the station by then, or the line to it is not as it should be. */
const SENT_WITHIN_MS = 5000;
const STILL_AFTER_MS = 3000;
const NO_NOTICE = { sentence: "", until: 0, stays: false };
const PRESSED = /** @type {const} */ ([
  "main",
  "again",
  "undo",
  "article",
  "words",
  "hear",
  "help",
]);
/** What changes the reading is done in the order of the presses. @type {readonly Action[]} */
const IN_ORDER = ["main", "again", "undo", "article", "words"];
const STAND_KEYS = {
  kept: "quietleaf:keys",
  first: FIRST_KEYS,
  names: texts.KEYS.names,
  pedals: PEDALS,
};
/** How the station stands when nothing more is recorded on this page. */
const ENDS_HERE = ["busy", "superseded", "refused", "late"];

class Stand {
  #owner = new Owner();
  #playback = new Playback();
  /** @type {Recorder | null} */ #recorder = null;
  /** @type {Heard | null} */ #heard = null;
  /** @type {import("../core/pacing.js").Pace} */ #pace;
  #count = 0;
  #drawnAt = -DRAWN_EVERY;
  #voiceAt = -Infinity;
  // Words that follow every syllable could not be read.
  #kept = new KeptLine(SAVED_EVERY);
  #notice = NO_NOTICE;
  #watched = startAdvice();
  /** @type {import("../core/advice.js").AdviceCode | null} */ #wrong = null;
  /** @type {number | null} */ #warned = null;
  /** @type {import("../core/pacing.js").PacingStage} */ #stage = "reading";
  #programme = new Programme();
  #leadIns;
  /** @type {(() => void)[]} */ #onSent = [];
  #take = { fromS: 0, trimmed: true };
  /** @type {number | null} */ #firstWordS = null;
  /** @type {{of: Standing | null, is: Pacing | null}} */ #pacing = { of: null, is: null };
  /** @type {() => void} */ #stopAsking = () => {};
  /** @type {() => void} */ #stopWatching = () => {};
  #presses = Promise.resolve();
  #acted = "";
  #still = false;
  /** @type {WakeLockSentinel | null} */ #awake = null;

  /**
   * @param {HTMLElement} root
   * @param {PageFacts} facts
   */
  constructor(root, facts) {
    this.facts = facts;
    this.#pace = knownPace(facts.paceWpm, facts.paceMeasured);
    this.#leadIns = new LeadIns(facts.sentBack.map(({ number }) => number));
    this.view = new StandView(root, facts);
    this.standing = begun({
      hasOpening: facts.openingWords > 0,
      hasClosing: facts.closingWords > 0,
      openingRead: facts.openingRead,
      closingRead: facts.closingRead,
      recordedS: facts.recordedS,
      articles: facts.articles,
      restAfterS: 60 * facts.restAfterMin,
      openingS: (60 * facts.openingWords) / facts.paceWpm,
      tryOut: facts.practice && facts.pages === 0,
      sentBack: facts.sentBack.map(({ read }) => read),
      sentBackUnit: facts.sentBackUnit,
    });
    this.keys = new KeySettings(this.#owner, this.view.part("keys"), STAND_KEYS);
    this.#wire();
    this.#watch();
    this.#showKeys();
    this.#show();
  }

  /** Make everything ready; what goes wrong stands on the page. */
  async open() {
    const microphone = await openMicrophone().catch((/** @type {unknown} */ fault) => fault);
    const heard = isMicrophone(microphone) ? microphone.track.label : "";
    const origin = [this.facts.booth, heard].filter((part) => part !== "").join(", ");
    try {
      const answer = await fetch("/stand/pass", { method: "POST" });
      if (!answer.ok) throw new Error(texts.NO_PASS);
      const { pass, reading, wire } = await answer.json();
      const { leadInS } = this.facts;
      const recorder = await Recorder.open({ pass, place: reading, wire, origin, leadInS });
      if (this.#owner.stopped) return recorder.close();
      this.#recorder = recorder;
      this.#owner.owns(() => recorder.close());
      this.#listen(recorder);
    } catch (fault) {
      this.#happen({ what: "stopped", sentence: sentenceOf(fault), canTakeOver: false });
      return;
    }
    if (isMicrophone(microphone)) await this.#hearFrom(microphone);
    else this.#happen({ what: "lost", sentence: sentenceOf(microphone) });
  }

  stop() {
    this.#owner.stop();
  }

  async #openMicrophone() {
    try {
      await this.#hearFrom(await openMicrophone());
    } catch (fault) {
      this.#happen({ what: "lost", sentence: sentenceOf(fault) });
    }
  }

  /** @param {Microphone} microphone */
  async #hearFrom({ track, settings, side }) {
    this.#stopWatching();
    this.#stopWatching = watchMicrophone(track, settings.deviceId ?? "", (code) => {
      if (code === "muted") this.#tell(texts.MUTED);
      else void this.#lose(TROUBLES.gone);
    });
    this.#owner.owns(this.#stopWatching);
    this.#owner.owns(() => track.stop());
    await this.#recorder?.listen(track, { side });
    await this.#openPlace();
    this.#happen({ what: "ready" });
    void this.#stayAwake();
  }

  /** What leads up to the sentence that is read again is fetched, and the recorder knows of it. */
  async #openPlace() {
    const { sentBack } = this.standing;
    if (sentBack === null || this.#recorder === null) return;
    await this.#leadIns.open(this.#recorder, sentBack.index);
  }

  /** @param {number | null} index */
  async #moveTo(index) {
    if (index === null) return;
    this.#playback.stop();
    this.#happen({ what: "place", index });
    await this.#openPlace();
  }

  /** @param {string} sentence */
  async #lose(sentence) {
    if (this.standing.phase === "lost") return;
    const rolling = this.standing.phase === "rolling";
    this.#happen({ what: "lost", sentence });
    if (rolling) await this.#recorder?.hold({ broken: true });
  }

  /** The recorder tells something ten times a second; where it does not, the page says so. */
  #watch() {
    let seen = this.#count;
    this.#owner.every(STILL_AFTER_MS, () => {
      const still = this.#count === seen;
      // Time is counted by what is heard; where nothing is, it goes on all the same.
      if (still) this.#count += (STILL_AFTER_MS / 1000) * A_SECOND;
      seen = this.#count;
      if (still) this.#showAdvice();
      if (still === this.#still) return;
      this.#still = still;
      if (still && this.standing.phase === "rolling") this.#tell(texts.HEARD.still);
      this.#showKept();
    });
  }

  /** @param {Recorder} recorder */
  #listen(recorder) {
    const on = (/** @type {string} */ name, /** @type {(detail: any) => void} */ what) =>
      this.#owner.listen(recorder, name, (event) => what(event.detail));
    on("heard", (heard) => this.#hear(heard));
    on("standing", (detail) => this.#station(detail));
    on("missing", ({ missingS }) => this.#tell(texts.MISSING(missingS), MISSING_LASTS));
    on("lost-device", ({ sentence }) => void this.#lose(sentence));
    on("stopped", () => this.#happen({ what: "held", broken: true }));
    on("little-room", ({ sentence }) => this.#tell(sentence, MISSING_LASTS));
    on("fallback", ({ sentence }) => this.#tell(sentence, MISSING_LASTS));
    on("ended", () => void this.#lose(TROUBLES.gone));
  }

  #wire() {
    const { view } = this;
    for (const action of PRESSED) {
      this.#owner.listen(view.part(action), "click", (event) => {
        this.#press(action);
        // Whoever pressed with a pointer goes on by key: space is not to press this one again.
        if (event.detail > 0) view.part("main").focus({ preventScroll: true });
      });
    }
    this.#owner.listen(view.part("hand-in"), "click", () => this.#leave());
    this.#owner.listen(view.strip, "pick", (event) => this.#pick(event.detail));
    this.#owner.listen(view.strip, "left", () => view.part("main").focus({ preventScroll: true }));
    this.#owner.listen(this.keys, "change", () => this.#showKeys());
    this.#owner.listen(document, "keydown", (event) => this.#key(event));
    this.#owner.listen(document, "keyup", (event) => {
      // A button that has the focus is pressed when space comes up: what acted already does not.
      if (event.code === this.#acted) event.preventDefault();
      this.#acted = "";
    });
    this.#owner.owns(() => this.#playback.close());
    this.#wireVolume();
    this.#wireBelow();
    this.#owner.listen(document, "visibilitychange", () => void this.#stayAwake());
    this.#owner.owns(() => void this.#awake?.release());
    this.#owner.listen(window, "beforeunload", (event) => {
      if (this.standing.unsent > 0 || this.standing.phase === "rolling") event.preventDefault();
    });
    this.#owner.listen(window, "pagehide", () => this.stop());
    const { mediaDevices } = navigator;
    if (mediaDevices !== undefined) {
      this.#owner.listen(mediaDevices, "devicechange", () => {
        if (this.standing.phase === "lost") void this.#openMicrophone();
      });
    }
  }

  #wireVolume() {
    const volume = /** @type {HTMLInputElement} */ (this.view.part("volume"));
    const show = () => {
      this.view.part("volume-said").textContent = `${volume.value} %`;
    };
    volume.value = String(this.#playback.volume);
    show();
    this.#owner.listen(volume, "input", () => {
      this.#playback.volume = Number(volume.value);
      show();
    });
  }

  /** What is seldom needed is there once it is opened, and the screen is the stand's again after. */
  #wireBelow() {
    for (const id of ["headphones", "keys", "reminders"]) {
      const section = /** @type {HTMLDetailsElement} */ (this.view.part(id));
      this.#owner.listen(this.view.part(`${id}-way`), "click", (event) => {
        // No address of its own: a page that is loaded again shows the stand.
        event.preventDefault();
        section.open = true;
        section.querySelector("summary")?.focus();
        section.scrollIntoView();
      });
      this.#owner.listen(section, "toggle", () => {
        const focused = document.activeElement ?? document.body;
        const lost = focused === document.body || section.contains(focused);
        if (!section.open && lost) this.view.part(`${id}-way`).focus();
      });
    }
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (this.keys.learning) {
      event.preventDefault();
      this.keys.take(event);
      return;
    }
    const action = actionOf(this.keys.keys, event, this.#focus());
    if (action === null) return;
    event.preventDefault();
    this.#acted = event.code;
    if (!event.repeat) this.#press(action);
  }

  /** @returns {"page" | "main" | "control" | "field"} */
  #focus() {
    const focused = document.activeElement;
    if (focused === null || focused === document.body || focused.localName === "main") return "page";
    if (focused.id === "main") return "main";
    return focused.matches("input, select, textarea, [contenteditable]") ? "field" : "control";
  }

  /**
   * What rolls, holds or marks is done in the order of the presses: what the next one asks for
   * depends on what the last one brought about.
   *
   * @param {Action} action
   */
  #press(action) {
    const answer = () => {
      const command = asked(this.standing, action);
      return command === null ? Promise.resolve() : this.#do(command);
    };
    if (IN_ORDER.includes(action)) this.#inOrder(answer);
    else void this.#answer(answer);
  }

  /** @param {() => Promise<void>} answer */
  #inOrder(answer) {
    this.#presses = this.#presses.then(() => this.#answer(answer));
  }

  /** @param {() => Promise<void>} answer */
  async #answer(answer) {
    if (this.#owner.stopped) return;
    try {
      await answer();
    } catch (fault) {
      const sentence = sentenceOf(fault);
      // A lead-in that was stopped for this leads nowhere any more.
      if (this.standing.leading !== null && !this.#playback.playing) await this.#led(sentence);
      else this.#tell(sentence);
    }
  }

  /** @param {Command} command */
  async #do(command) {
    const recorder = this.#recorder;
    switch (command) {
      case "roll":
        return this.#roll();
      case "hold":
        this.#playback.stop();
        await recorder?.hold();
        return this.#happen({ what: "held" });
      case "again":
        return this.#again(this.view.strip.focused);
      case "undo":
        return this.#undo();
      case "not-yet":
        return this.#tell(texts.NOT_YET);
      case "microphone":
        return this.#openMicrophone();
      case "take-over":
        return recorder?.takeOver();
      case "reload":
        return window.location.reload();
      case "stay":
        return this.#happen({ what: "stay" });
      case "mark-article":
        await recorder?.markArticle("");
        this.#hearPace();
        this.#programme.markArticle(this.#rolledS());
        this.#happen({ what: "marked" });
        return this.#tell(texts.ARTICLE_MARKED);
      case "mark-opening":
        return this.#mark("opening");
      case "mark-closing":
        return this.#mark("closing");
      case "next-article":
        return this.#happen({ what: "next", next: "article" });
      case "next-opening":
        return this.#happen({ what: "next", next: "opening" });
      case "next-closing":
        return this.#happen({ what: "next", next: "closing" });
      case "not-next":
        return this.#happen({ what: "next", next: null });
      case "play":
        return this.#hearIt();
      case "stop-playing":
        return this.#playback.stop();
      case "begin-place":
        // Where the station did not answer before, it may now.
        await this.#openPlace();
        return this.#again(null);
      case "next-place":
        return this.#moveTo(this.standing.sentBack && nextUnread(this.standing.sentBack));
      case "other-place":
        return this.#moveTo(this.standing.sentBack && following(this.standing.sentBack));
      case "leave":
        return this.#leave();
      case "ask-help":
        return this.#askHelp();
      case "tell-time":
        return this.#tellTime();
    }
  }

  /** Opening words are counted and end where the first article begins: so fast this reader reads. */
  #hearPace() {
    const { reading, readS, turns, wordsFromS } = this.standing;
    if (reading !== "opening" || turns > 0) return;
    this.#pace = mixedPace(this.#pace, this.facts.openingWords, readS - wordsFromS);
  }

  async #roll() {
    // Nothing of ours may sound while the microphone goes into the programme.
    this.#playback.stop();
    window.speechSynthesis?.cancel();
    const { next } = this.standing;
    await this.#recorder?.roll();
    this.#beginTake();
    if (next === "article") {
      await this.#recorder?.markArticle("");
      this.#programme.markArticle(this.#rolledS());
    } else if (next !== null) {
      await this.#recorder?.markWords(next);
      this.#programme.markWords(next, this.#rolledS());
    }
    this.#happen({ what: "rolled" });
  }

  #rolledS() {
    return this.#heard?.secondsRolled ?? 0;
  }

  #beginTake() {
    this.#take = { fromS: this.#rolledS(), trimmed: false };
    this.#firstWordS = null;
    // What is to be played at a press finds the line to the headphones open.
    this.#playback.open();
  }

  /**
   * Take a sentence again: its lead-in is heard, and what is read after it goes on from there.
   *
   * @param {Run | null} picked a stretch of the strip; null goes back to the present sentence
   */
  async #again(picked) {
    const recorder = this.#recorder;
    if (recorder === null) return;
    const wasHeld = this.standing.phase === "held";
    const at = picked === null ? null : { take: picked.take, sample: picked.startSample };
    this.#playback.stop();
    window.speechSynthesis?.cancel();
    const { leadIn, beforeS, backS, further, known } = await recorder.again({ at });
    if (this.standing.phase !== "held" && this.standing.phase !== "rolling") {
      // It stopped meanwhile, and a press rolls.
      await recorder.hold();
      return;
    }
    if (wasHeld) this.#beginTake();
    const { samples, rate } = this.#leadIns.joined(leadIn, beforeS);
    const heard = this.#playback.play(samples, rate);
    const how = picked !== null ? "picked" : further ? "further" : "sentence";
    const runs = this.#heard?.runs ?? [];
    const isEmpty = samples.length === 0;
    const unread = this.#programme.wordsAfter(backS, runs);
    const happening = /** @type {const} */ ({ what: "again", how, unread });
    // Where there is nothing to listen to, nobody is told to.
    if (isEmpty) this.standing = after(this.standing, happening);
    else this.#happen(happening);
    const { nothing, last } = texts.NOT_IN_MEMORY;
    if (!known && !isEmpty) this.#tell(last);
    const read = this.standing.sentBack === null ? texts.READ_ON : texts.SENT.readOn;
    const onward = this.#programme.hasArticleAfter(backS, runs) ? texts.READ_ON_ARTICLE : read;
    const first =
      this.standing.sentBack !== null && this.#leadIns.isMissing
        ? texts.SENT.noLeadIn
        : texts.FROM_START;
    const empty = known ? first : nothing(this.#rolledS() - backS);
    // It is not waited for: the next press may be to stop it.
    void heard.then((ending) => {
      if (ending === "stopped") return;
      void this.#led(ending === "mute" ? texts.NOT_PLAYED.leading : isEmpty ? empty : onward);
    });
  }

  /**
   * The lead-in has come out at the headphones to its end: the programme goes on.
   *
   * @param {string} sentence
   */
  async #led(sentence) {
    if (this.standing.leading === null) return;
    try {
      await this.#recorder?.againLed();
    } catch (fault) {
      sentence = sentenceOf(fault);
    }
    this.#happen({ what: "led" });
    this.#tell(sentence);
  }

  async #undo() {
    this.#playback.stop();
    const told = await this.#recorder?.againUndo();
    this.#happen({ what: "undone" });
    this.#tell(told?.undone ? texts.UNDONE : texts.NOT_UNDONE);
  }

  /** @param {Run} run */
  #pick(run) {
    if (this.standing.phase === "held") return void this.#play([run]);
    this.#inOrder(async () => {
      if (asked(this.standing, "again") !== null) await this.#again(run);
    });
    this.view.part("main").focus({ preventScroll: true });
  }

  /** @param {"opening" | "closing"} which */
  async #mark(which) {
    await this.#recorder?.markWords(which);
    this.#programme.markWords(which, this.#rolledS());
    this.#happen({ what: "words", which });
    this.#tell(texts.WORDS_MARKED[which]);
  }

  /** The last sentences; what was read before this page was loaded, the station has. */
  async #hearIt() {
    if (this.standing.sentBack !== null) return this.#hearInPlace();
    const runs = lastRuns(this.#heard?.runs ?? [], this.#programme.outside);
    if (runs.length > 0 || this.standing.rolledHere) return this.#play(runs);
    return this.#playSound(await lastAtStation());
  }

  /** The sentence that was sent back, over both joins; what the station has not got, from here. */
  async #hearInPlace() {
    this.view.tell(texts.SENT.moment);
    const sound = (await this.#isSent()) ? await sentBackInPlace(this.#leadIns.number) : null;
    if (sound !== null) return this.#playSound(sound, texts.SENT.hearing);
    if (this.#recorder === null) return;
    const runs = lastRuns(this.#heard?.runs ?? [], this.#programme.outside);
    const here = await soundOf(this.#recorder, runs, this.#heard?.runs);
    await this.#playSound(here, texts.SENT.hearingHere);
  }

  /** Wait until the station has all of it. */
  #isSent() {
    if (this.standing.unsent === 0) return Promise.resolve(true);
    return new Promise((done) => {
      const late = setTimeout(() => done(false), SENT_WITHIN_MS);
      this.#onSent.push(() => {
        clearTimeout(late);
        done(true);
      });
    });
  }

  /** @param {readonly Run[]} runs */
  async #play(runs) {
    if (this.#recorder === null) return;
    await this.#playSound(await soundOf(this.#recorder, runs, this.#heard?.runs));
  }

  /**
   * @param {import("../audio/hear_it.js").Sound | null} sound
   * @param {string} sentence
   */
  async #playSound(sound, sentence = texts.HEARING) {
    // It may have been rolled meanwhile.
    if (this.standing.phase !== "held") return;
    if (sound === null) return this.#tell(texts.NOTHING_TO_HEAR);
    const heard = this.#playback.play(sound.samples, sound.rate);
    this.#happen({ what: "hearing", on: true });
    this.#tell(sentence);
    void heard.then((ending) => {
      // Another may play in its place.
      if (!this.#playback.playing) this.#happen({ what: "hearing", on: false });
      if (ending === "mute") this.#tell(texts.NOT_PLAYED.held);
    });
  }

  async #askHelp() {
    this.#stopAsking();
    this.#happen({ what: "help", help: "asking" });
    try {
      const answer = await fetch("/stand/help", { method: "POST" });
      if (!answer.ok) throw new Error(texts.HELP.failed);
      const { messageId } = await answer.json();
      this.#happen({ what: "help", help: "asked" });
      this.#stopAsking = this.#owner.every(SEEN_EVERY_MS, () => void this.#askSeen(messageId));
    } catch {
      this.#happen({ what: "help", help: "failed" });
    }
  }

  /** @param {string} messageId */
  async #askSeen(messageId) {
    try {
      const answer = await fetch(`/stand/message/${messageId}`);
      if (!answer.ok || (await answer.json()).seenAt === null) return;
    } catch {
      return; // Away for a moment: it is asked again.
    }
    this.#stopAsking();
    this.#happen({ what: "help", help: "seen" });
  }

  #tellTime() {
    const reckoned = this.#reckoned();
    const sentence =
      reckoned === null
        ? texts.readSoFar(this.standing.readS)
        : texts.timeLeft(reckoned.left);
    if (this.standing.phase === "rolling" || window.speechSynthesis === undefined) {
      this.view.tell(sentence);
      return;
    }
    this.#playback.stop();
    window.speechSynthesis.cancel();
    const utterance = new SpeechSynthesisUtterance(sentence);
    utterance.lang = document.documentElement.lang;
    utterance.volume = this.#playback.volume / 100;
    window.speechSynthesis.speak(utterance);
  }

  #leave() {
    this.#happen({ what: "leave" });
    this.#goOn();
  }

  /** Leave when the station has everything. */
  #goOn() {
    if (this.standing.phase !== "leaving" || this.standing.unsent > 0) return;
    this.stop();
    window.location.assign(this.facts.handIn);
  }

  async #stayAwake() {
    if (document.visibilityState !== "visible" || (this.#awake !== null && !this.#awake.released)) {
      return;
    }
    // Where it is refused (battery saver) the page works on without.
    this.#awake = (await navigator.wakeLock?.request("screen").catch(() => null)) ?? null;
  }

  /** @param {Happening} happening */
  #happen(happening) {
    const before = this.standing;
    this.standing = after(before, happening);
    const { sentence, more } = said(this.standing);
    // Where reading goes on after a lead-in, what is told of it is short: one is to read.
    const goesOn = before.leading !== null && this.standing.phase === "rolling";
    if (sentence !== said(before).sentence && !(goesOn && this.standing.leading === null)) {
      this.view.tell(`${sentence} ${more}`.trim());
    }
    if (this.standing.help !== before.help) this.view.tell(helpSaid(this.standing.help));
    if (before.leading !== null && this.standing.leading === null) {
      // Held, stopped or lost: a lead-in that still plays leads nowhere.
      this.#playback.stop();
    }
    if (isOtherState(this.standing, before)) this.#endNotice();
    if (this.standing.rest && !before.rest) this.#tell(texts.REST(this.facts.restAfterMin));
    if (this.standing.phase !== before.phase) this.#kept.change();
    this.#show();
  }

  /** @param {{station: import("../core/standing.js").Station, sentence: string, behindS: number, queuedBytes: number}} detail */
  #station({ station, sentence, behindS, queuedBytes }) {
    const before = this.standing;
    if (ENDS_HERE.includes(station)) {
      void this.#stopHere(sentence || texts.LATE, station === "busy" || station === "superseded");
      return;
    }
    this.standing = after(before, { what: "station", station, behindS, unsent: queuedBytes, sentence });
    if (before.phase === "stopped" && before.canTakeOver) this.#happen({ what: "resumed" });
    this.#kept.see(behindS);
    if (queuedBytes === 0) for (const sent of this.#onSent.splice(0)) sent();
    if (station !== before.station || (queuedBytes === 0) !== (before.unsent === 0)) {
      this.#kept.change();
      if (station !== before.station) this.view.tell(savedSaid(this.standing, this.#pace.wordsPerMin));
    }
    this.#showKept();
    this.#goOn();
  }

  /**
   * @param {string} sentence
   * @param {boolean} canTakeOver
   */
  async #stopHere(sentence, canTakeOver) {
    const rolling = this.standing.phase === "rolling";
    this.#happen({ what: "stopped", sentence, canTakeOver });
    if (rolling) await this.#recorder?.hold({ broken: true });
  }

  /** @param {Heard} heard */
  #hear(heard) {
    this.#heard = heard;
    this.#count += 1;
    if (heard.speaking) this.#voiceAt = this.#count;
    if (this.#count - this.#drawnAt < DRAWN_EVERY) return;
    this.#drawnAt = this.#count;
    const before = this.standing;
    const { secondsRead, canUndo, outside } = heard.again;
    this.#programme.hear(outside, heard.secondsRolled);
    this.#trim(heard);
    const { trimmedS, articlesS } = this.#programme;
    const readS = Math.max(0, this.facts.recordedS + secondsRead - trimmedS);
    this.standing = after(before, { what: "read", readS });
    this.standing = after(this.standing, { what: "may-undo", may: canUndo });
    const articles = this.facts.articles + articlesS.length;
    this.standing = after(this.standing, { what: "articles", articles });
    const { reading } = this.standing;
    if (reading !== before.reading || canUndo !== before.canUndo) this.#show();
    this.#listenIn(heard);
    this.#warn();
    this.#showReading();
    this.#showAdvice();
    this.#showKept();
  }

  /** @param {Heard} heard */
  #trim(heard) {
    const here = heard.runs.filter(
      ({ startS, stopS }) =>
        startS >= this.#take.fromS &&
        !isLeftOut({ startS, stopS: stopS ?? heard.secondsRolled }, this.#programme.outside),
    );
    if (heard.rolling && !heard.again.leading) this.#firstWordS ??= here[0]?.startS ?? null;
    if (heard.rolling || this.#take.trimmed || this.standing.phase === "rolling") return;
    this.#take.trimmed = true;
    const lastS = here.at(-1)?.stopS ?? null;
    const { fromS } = this.#take;
    this.#programme.trim(edgesOf(fromS, heard.secondsRolled, this.#firstWordS, lastS));
  }

  /** @param {Heard} heard */
  #listenIn(heard) {
    // What the headphones let out is nobody's voice, and silence is as it should be.
    if (this.standing.leading !== null) return;
    const { state, advice } = adviceStep(this.#watched, heard, this.#count / A_SECOND);
    this.#watched = state;
    const wrong = advice?.code ?? null;
    if (wrong !== null && wrong !== this.#wrong) this.view.tell(texts.ADVICE[wrong]);
    this.#wrong = wrong;
  }

  #warn() {
    const reckoned = this.#reckoned();
    if (reckoned === null || this.standing.phase !== "rolling") return;
    const { stage, warningMin } = reckoned;
    if (stage !== this.#stage) {
      this.#stage = stage;
      const closes = stage === "begin-closing" && !this.standing.facts.hasClosing;
      this.view.tell(closes ? texts.END_NOW : texts.STAGE[stage]);
      this.#show();
    }
    if (warningMin !== this.#warned) {
      this.#warned = warningMin;
      if (warningMin !== null) this.#tell(texts.warning(warningMin));
    }
  }

  #reckoned() {
    if (this.#pacing.of !== this.standing) this.#pacing = { of: this.standing, is: this.#reckon() };
    return this.#pacing.is;
  }

  #reckon() {
    const { facts, standing } = this;
    return reckon({
      window: facts.window,
      readS: standing.readS,
      wordsPerMin: this.#pace.wordsPerMin,
      closingWords: facts.closingWords,
      closingBegun: standing.closingRead,
      warningsMin: facts.warningsMin,
      articlesS: this.#programme.articlesS
        .map((placeS) => facts.recordedS + placeS)
        .slice(-ARTICLES_KEPT),
    });
  }

  #show() {
    const reckoned = this.#reckoned();
    this.view.showState(this.standing, reckoned);
    this.#showReading();
    this.#showAdvice();
    this.#showKept();
  }

  #showReading() {
    this.view.showReading(
      this.standing,
      this.#reckoned(),
      this.#heard?.runs ?? [],
      this.#heard?.secondsRolled ?? 0,
      this.facts.paceMeasured || this.#pace.wordsPerMin !== this.facts.paceWpm,
      this.#programme.outside,
    );
  }

  #showAdvice() {
    this.view.showAdvice(this.#advised());
  }

  /** One sentence at most: what just happened, what follows from it, what is wrong, what is due. */
  #advised() {
    const { phase } = this.standing;
    const { more } = said(this.standing);
    if (phase !== "held" && phase !== "rolling") return more;
    if (this.#notice.sentence !== "" && this.#count < this.#notice.until) {
      return this.#notice.sentence;
    }
    if (this.standing.leading !== null) return "";
    // What is to be done with a sentence that was sent back stands under the state.
    const next = this.standing.sentBack === null ? more : "";
    return next || (this.#wrong === null ? this.#due() : texts.ADVICE[this.#wrong]);
  }

  #due() {
    if (this.standing.rest) return texts.REST(this.facts.restAfterMin);
    const stage = this.#reckoned()?.stage ?? "reading";
    const closes = stage === "begin-closing" && !this.standing.facts.hasClosing;
    return closes ? texts.END_NOW : texts.STAGE[stage];
  }

  #showKept() {
    const voice = this.#count - this.#voiceAt < VOICE_LASTS;
    this.view.showKept(
      heardSaid(this.standing, this.#still ? "nothing" : voice ? "voice" : "quiet"),
      this.#kept.said(this.standing, this.#pace.wordsPerMin, this.#count),
    );
  }

  #showKeys() {
    const { keys } = this.keys;
    this.view.showKeys((action) =>
      !keys.on && typesCharacter(keys.codes[action]) ? null : this.keys.nameOf(action),
    );
  }

  /**
   * Say something on the page for a while, and to whoever listens.
   *
   * @param {string} sentence
   * @param {number} lasts
   */
  #tell(sentence, lasts = NOTICE_LASTS) {
    this.#notice = { sentence, until: this.#count + lasts, stays: lasts > NOTICE_LASTS };
    this.view.tell(sentence);
    this.#showAdvice();
  }

  /** What was said of the state before is over; what is still to be done stays. */
  #endNotice() {
    if (!this.#notice.stays) this.#notice = NO_NOTICE;
  }
}

/**
 * @param {Standing} now
 * @param {Standing} before
 */
function isOtherState(now, before) {
  return (
    now.phase !== before.phase ||
    now.next !== before.next ||
    now.leading !== before.leading ||
    (before.hearing && !now.hearing)
  );
}

/**
 * @param {unknown} found
 * @returns {found is Microphone}
 */
function isMicrophone(found) {
  return typeof found === "object" && found !== null && "track" in found;
}

/** @param {unknown} fault */
function sentenceOf(fault) {
  return fault instanceof Error ? fault.message : String(fault);
}

const root = /** @type {HTMLElement} */ (document.getElementById("stand"));
const stand = new Stand(root, JSON.parse(root.dataset["facts"] ?? "{}"));
void stand.open();
