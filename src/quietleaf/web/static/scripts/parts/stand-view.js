// The page of the stand as it is drawn: given how things stand, it changes what is different, and
// nothing else. It listens to nothing and decides nothing.

import { guided } from "../core/guide.js";
import { controls, helpSaid, said, wordsLabel, wordsShown } from "../core/standing.js";
import * as texts from "../texts/stand.js";
import { SentenceStrip } from "./sentence-strip.js";
import { SlotColumn } from "./slot-column.js";
import { TimeLeft } from "./time-left.js";

/** @typedef {import("../core/standing.js").Standing} Standing */
/** @typedef {import("../core/keys.js").Action} Action */

/** @typedef {import("../core/pacing.js").Pacing} Pacing */

const CONTROLS = /** @type {const} */ (["main", "again", "undo", "article", "words", "hear", "help"]);

export class StandView {
  #root;
  #facts;
  #spoken = "";
  /** @type {string[]} */ #toSay = [];

  /**
   * @param {HTMLElement} root
   * @param {{window: {shortestS: number, longestS: number} | null, practice: boolean,
   *   pages: number}} facts
   */
  constructor(root, facts) {
    this.#root = root;
    this.#facts = facts;
  }

  /** @param {string} id @returns {HTMLElement} */
  part(id) {
    return /** @type {HTMLElement} */ (this.#root.querySelector(`#${id}`));
  }

  get strip() {
    return /** @type {SentenceStrip} */ (this.part("strip"));
  }

  /**
   * Draw what changes with the state: sentence, words to say, controls.
   *
   * @param {Standing} standing
   * @param {Pacing | null} reckoned
   */
  showState(standing, reckoned) {
    if (this.#root.dataset["phase"] !== standing.phase) {
      this.#root.dataset["phase"] = standing.phase;
    }
    const guide = this.#facts.practice ? guided(standing, this.#facts.pages) : null;
    const { sentence, more } = said(standing);
    write(this.part("state"), sentence);
    this.#line("more", guide?.sentence ?? (standing.sentBack === null ? "" : more));
    this.#showWords(
      guide === null ? wordsShown(standing, closingNear(reckoned)) : guide.words,
    );
    this.#showControls(standing, closingDue(reckoned));
    this.#line("help-said", helpSaid(standing.help));
    this.#line("twice", this.#isTwiceSaid(standing) ? texts.TWICE : "");
  }

  /** While held, where there is anything to read and nothing else to say in its place. */
  #isTwiceSaid(/** @type {Standing} */ { phase, help, facts }) {
    return phase === "held" && help === "none" && !facts.tryOut;
  }

  /** @param {string | null} which */
  #showWords(which) {
    const say = this.part("say");
    say.hidden = which === null;
    for (const block of say.querySelectorAll("[data-words]")) {
      const words = /** @type {HTMLElement} */ (block);
      words.hidden = words.dataset["words"] !== which;
    }
  }

  /** @param {Standing} standing @param {boolean} closingDue */
  #showControls(standing, closingDue) {
    const there = controls(standing);
    this.#control("main", there.main);
    this.#control("again", there.again ? texts.AGAIN : null);
    this.#control("undo", there.undo ? texts.UNDO : null);
    const article = standing.sentBack === null ? texts.ARTICLE.mark : texts.SENT.other;
    this.#control("article", there.article ? article : null);
    this.#control("words", there.words && wordsLabel(standing, there.words));
    this.#control("hear", there.hear ? texts.HEAR[standing.hearing ? "stop" : "play"] : null);
    this.#control("help", texts.HELP.ask);
    this.part("hand-in").hidden = !there.handIn;
    this.part("other-microphone").hidden = standing.phase !== "lost";
    const due = closingDue && there.words === "closing" && !standing.closingRead;
    this.part("words").classList.toggle("due", due);
    this.#pressed("article", standing.next === "article");
    this.#pressed("words", standing.next !== null && standing.next === there.words);
  }

  /** @param {string} id @param {string | null} word */
  #control(id, word) {
    const control = this.part(id);
    control.hidden = word === null;
    if (word !== null) write(/** @type {HTMLElement} */ (control.querySelector(".word")), word);
  }

  /** @param {string} id @param {boolean} on */
  #pressed(id, on) {
    const control = this.part(id);
    if (on) control.setAttribute("aria-pressed", "true");
    else control.removeAttribute("aria-pressed");
  }

  /**
   * Draw what grows while the reading does.
   *
   * @param {Standing} standing
   * @param {Pacing | null} reckoned
   * @param {readonly import("../core/live.js").Run[]} runs
   * @param {number} nowS On the clock of the runs.
   * @param {boolean} ownPace Whether it was reckoned at this reader's own pace.
   * @param {readonly {startS: number, stopS: number}[]} outside What has left the programme.
   */
  showReading(standing, reckoned, runs, nowS, ownPace, outside) {
    const { window } = this.#facts;
    if (window !== null && reckoned !== null) {
      const kind = standing.readS === 0 ? texts.CLOCK.toRead : texts.CLOCK.left;
      const figure = /** @type {TimeLeft} */ (this.part("time-left"));
      const { itemsLeft, left, wordsLeft } = reckoned;
      figure.show(left, kind, texts.inPrint(wordsLeft, itemsLeft, ownPace));
      const column = /** @type {SlotColumn} */ (this.part("slot-column"));
      column.show(standing.readS, window.longestS, reckoned, standing.facts.hasClosing);
    }
    this.strip.show(runs, nowS, standing, outside);
  }

  /** @param {string} sentence */
  showAdvice(sentence) {
    this.#line("advice", sentence);
  }

  /** @param {string} heard @param {string} saved */
  showKept(heard, saved) {
    write(this.part("heard"), heard);
    write(this.part("saved"), saved);
  }

  /** @param {(action: Action) => string | null} nameOf What stands on each key. */
  showKeys(nameOf) {
    for (const id of CONTROLS) {
      const key = /** @type {HTMLElement} */ (this.part(id).querySelector("kbd"));
      const name = nameOf(id);
      key.hidden = name === null;
      write(key, name ?? "");
      if (name === null) this.part(id).removeAttribute("aria-keyshortcuts");
      else this.part(id).setAttribute("aria-keyshortcuts", name);
    }
  }

  /**
   * Say something to whoever listens to the page; what comes at one moment is said together.
   *
   * @param {string} sentence
   */
  tell(sentence) {
    if (sentence === "") return;
    if (this.#toSay.push(sentence) > 1) return;
    queueMicrotask(() => {
      const all = this.#toSay.splice(0).join(" ");
      // The same sentence again is news only if it looks different to the browser.
      this.#spoken = all === this.#spoken ? `${all}\u00a0` : all;
      this.part("told").textContent = this.#spoken;
    });
  }

  /** @param {string} id @param {string} text */
  #line(id, text) {
    const line = this.part(id);
    if (line.hidden !== (text === "")) line.hidden = text === "";
    write(line, text);
  }
}

/** @param {HTMLElement} part @param {string} text */
function write(part, text) {
  if (part.textContent !== text) part.textContent = text;
}

/**
 * Whether the time for the closing words has come.
 *
 * @param {Pacing | null} reckoned
 */
function closingDue(reckoned) {
  return reckoned?.stage === "begin-closing" || reckoned?.stage === "over";
}

/**
 * Whether it is time to have the closing words before one's eyes.
 *
 * @param {Pacing | null} reckoned
 */
function closingNear(reckoned) {
  return reckoned?.stage === "look-for-end" || closingDue(reckoned);
}
