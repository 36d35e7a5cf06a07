// Where the stand stands: what happened, in what order, and what the page says and offers for it.
// Pure: the page tells what happened, and does what `asked` says.

import {
  askedSentBack,
  begunSentBack,
  controlsSentBack,
  heldIn,
  mainSentBack,
  movedTo,
  saidSentBack,
} from "./sent_back.js";
import { HEARD, HELP, LEADING, LEAVING, MAIN, MORE, SAVED, SENT, STATE, WORDS } from "../texts/stand.js";

/** @typedef {"opening" | "closing"} Which */
/** @typedef {"getting-ready" | "held" | "rolling" | "lost" | "stopped" | "leaving"} Phase */
/** @typedef {"none" | "asking" | "asked" | "seen" | "failed"} Help */
/** @typedef {"sentence" | "further" | "picked"} Leading Where the lead-in leads to. */
/** @typedef {"well" | "away" | "busy" | "superseded" | "trouble" | "refused" | "late"} Station */

/**
 * @typedef {object} Facts What the page knows when it opens.
 * @property {boolean} hasOpening
 * @property {boolean} hasClosing
 * @property {boolean} openingRead
 * @property {boolean} closingRead
 * @property {number} recordedS
 * @property {number} articles
 * @property {number} restAfterS
 * @property {number} openingS How long the opening words take, about.
 * @property {boolean} tryOut Whether there is nothing to read: somebody tries out their voice.
 * @property {readonly boolean[]} sentBack Of what the desk sent back: whether it is read again.
 * @property {"sentence" | "place"} sentBackUnit
 */

/**
 * @typedef {object} Standing
 * @property {Facts} facts
 * @property {Phase} phase
 * @property {Which | "article" | null} next What the next words are, where they are anything new.
 * @property {Which | null} reading Which fixed words are read now, or were before this hold.
 * @property {boolean} openingRead
 * @property {boolean} closingRead
 * @property {boolean} rolledHere Whether anything was rolled since the page opened.
 * @property {number} readS Length of the reading.
 * @property {number} wordsFromS Where in the reading the fixed words began.
 * @property {number} articles
 * @property {number} turns How often it was held since the last article began.
 * @property {number} restedAtS Length of the reading at the last rest that was suggested.
 * @property {boolean} rest Whether a rest is suggested at this hold.
 * @property {Help} help
 * @property {Station} station
 * @property {number} behindS
 * @property {number} unsent Bytes that the station does not have yet.
 * @property {string} stationSays
 * @property {string} told What happened to microphone or station, in a sentence.
 * @property {boolean} canTakeOver
 * @property {"opening" | "well" | "lost"} microphone
 * @property {boolean} hearing Whether something is played.
 * @property {Leading | null} leading Whether a sentence is taken again, and its lead-in plays.
 * @property {boolean} canUndo Whether the old sentence can be had back.
 * @property {number} agains How often a sentence was taken again.
 * @property {WordsRead | null} wordsBefore How it was with the fixed words before a sentence was
 *   taken again.
 * @property {import("./sent_back.js").SentBack | null} sentBack Where one is in what the desk sent
 *   back; null in any other reading.
 */

/** @typedef {Pick<Standing, "reading" | "openingRead" | "closingRead">} WordsRead */

/**
 * @typedef {{what: "ready"}
 *   | {what: "resumed"}
 *   | {what: "rolled"}
 *   | {what: "held", broken?: boolean}
 *   | {what: "again", how: Leading, unread: readonly Which[]}
 *   | {what: "led"}
 *   | {what: "undone"}
 *   | {what: "may-undo", may: boolean}
 *   | {what: "read", readS: number}
 *   | {what: "marked"}
 *   | {what: "articles", articles: number}
 *   | {what: "next", next: Which | "article" | null}
 *   | {what: "words", which: Which}
 *   | {what: "lost", sentence: string}
 *   | {what: "stopped", sentence: string, canTakeOver: boolean}
 *   | {what: "station", station: Station, behindS: number, unsent: number, sentence: string}
 *   | {what: "help", help: Help}
 *   | {what: "hearing", on: boolean}
 *   | {what: "place", index: number}
 *   | {what: "leave"}
 *   | {what: "stay"}} Happening
 */

/** @typedef {"roll" | "hold" | "again" | "undo" | "not-yet" | "microphone" | "take-over" | "reload" | "stay" | "mark-article" | "next-article" | "not-next" | "mark-closing" | "mark-opening" | "next-closing" | "next-opening" | "play" | "stop-playing" | "ask-help" | "tell-time" | "begin-place" | "next-place" | "other-place" | "leave"} Command */

/** Where somebody goes on who was stopped. @type {Record<Standing["microphone"], Phase>} */
const PHASE_WITH = { opening: "getting-ready", well: "held", lost: "lost" };

/**
 * The stand as the page opens.
 *
 * @param {Facts} facts
 * @returns {Standing}
 */
export function begun(facts) {
  return {
    facts,
    phase: "getting-ready",
    next: facts.hasOpening && !facts.openingRead && facts.sentBack.length === 0 ? "opening" : null,
    reading: null,
    openingRead: facts.openingRead,
    closingRead: facts.closingRead,
    rolledHere: false,
    readS: facts.recordedS,
    wordsFromS: 0,
    articles: facts.articles,
    turns: 0,
    restedAtS: facts.recordedS,
    rest: false,
    help: "none",
    station: "well",
    behindS: 0,
    unsent: 0,
    stationSays: "",
    told: "",
    canTakeOver: false,
    microphone: "opening",
    hearing: false,
    leading: null,
    canUndo: false,
    agains: 0,
    wordsBefore: null,
    sentBack: begunSentBack(facts.sentBack, facts.sentBackUnit),
  };
}

/**
 * The stand after something happened.
 *
 * @param {Standing} standing
 * @param {Happening} happening
 * @returns {Standing}
 */
export function after(standing, happening) {
  switch (happening.what) {
    case "ready":
      // What stops here goes on stopping: a microphone that is ready late changes nothing of it.
      return standing.phase === "stopped"
        ? { ...standing, microphone: "well" }
        : { ...standing, phase: "held", told: "", canTakeOver: false, microphone: "well" };
    case "resumed":
      return {
        ...standing,
        phase: PHASE_WITH[standing.microphone],
        told: "",
        canTakeOver: false,
      };
    case "rolled":
      return rolled(standing);
    case "held":
      return standing.phase === "rolling" ? held(standing, happening.broken) : standing;
    case "again":
      return takenAgain(standing, happening.how, happening.unread);
    case "led":
      return led(standing);
    case "undone":
      return {
        ...standing,
        ...standing.wordsBefore,
        wordsBefore: null,
        leading: null,
        canUndo: false,
      };
    case "may-undo":
      return { ...standing, canUndo: happening.may };
    case "read":
      return read(standing, happening.readS);
    case "marked":
      return articleBegun(standing);
    case "articles":
      return { ...standing, articles: happening.articles };
    case "next":
      return { ...standing, next: happening.next };
    case "words":
      return wordsBegun(standing, happening.which);
    case "lost":
      return standing.phase === "stopped"
        ? { ...standing, microphone: "lost" }
        : {
            ...held(standing, true),
            phase: "lost",
            told: happening.sentence,
            rest: false,
            microphone: "lost",
          };
    case "stopped":
      return {
        ...held(standing, true),
        phase: "stopped",
        told: happening.sentence,
        canTakeOver: happening.canTakeOver,
        rest: false,
      };
    case "station":
      return {
        ...standing,
        station: happening.station,
        behindS: happening.behindS,
        unsent: happening.unsent,
        stationSays: happening.sentence,
      };
    case "help":
      return { ...standing, help: happening.help };
    case "hearing":
      return { ...standing, hearing: happening.on };
    case "place":
      return {
        ...standing,
        sentBack: standing.sentBack && movedTo(standing.sentBack, happening.index),
      };
    case "leave":
      return { ...standing, phase: "leaving", hearing: false };
    case "stay":
      return { ...standing, phase: "held" };
  }
}

/** @param {Standing} standing @returns {Standing} */
function rolled(standing) {
  const on = {
    ...standing,
    phase: /** @type {Phase} */ ("rolling"),
    next: null,
    rolledHere: true,
    rest: false,
    hearing: false,
  };
  if (standing.next === "article") return articleBegun(on);
  return standing.next === null ? on : wordsBegun(on, standing.next);
}

/**
 * @param {Standing} standing
 * @param {Leading} how
 * @param {readonly Which[]} unread Fixed words that were begun in what is read again.
 * @returns {Standing}
 */
function takenAgain(standing, how, unread) {
  const { reading, openingRead, closingRead, leading, wordsBefore } = standing;
  return {
    ...rolled({ ...standing, next: null }),
    reading: reading !== null && unread.includes(reading) ? null : reading,
    openingRead: openingRead && !unread.includes("opening"),
    closingRead: closingRead && !unread.includes("closing"),
    // Pressed again while it plays, it is the first press that is taken back.
    wordsBefore: leading === null ? { reading, openingRead, closingRead } : wordsBefore,
    leading: how,
    canUndo: true,
    sentBack: standing.sentBack && {
      ...standing.sentBack,
      tries: standing.sentBack.tries + (leading === null ? 1 : 0),
    },
  };
}

/** @param {Standing} standing @returns {Standing} */
function led(standing) {
  const { sentBack } = standing;
  return {
    ...standing,
    leading: null,
    agains: standing.agains + 1,
    sentBack: sentBack && { ...sentBack, tried: true },
  };
}

/**
 * @param {Standing} standing
 * @param {boolean} broken The reader did not wish it: a sentence that is read again is not whole.
 * @returns {Standing}
 */
function held(standing, broken = false) {
  const restDue = standing.readS - standing.restedAtS >= standing.facts.restAfterS;
  return {
    ...standing,
    phase: "held",
    leading: null,
    turns: standing.turns + 1,
    rest: restDue,
    restedAtS: restDue ? standing.readS : standing.restedAtS,
    sentBack: standing.sentBack && heldIn(standing.sentBack, broken && standing.phase === "rolling"),
  };
}

/** @param {Standing} standing @param {number} readS @returns {Standing} */
function read(standing, readS) {
  // The opening words leave the page by themselves: twice their length is ample.
  const over =
    standing.reading === "opening" &&
    readS - standing.wordsFromS > 2 * standing.facts.openingS + 5;
  return { ...(over ? wordsOver(standing) : standing), readS };
}

/** @param {Standing} standing @param {Which} which @returns {Standing} */
function wordsBegun(standing, which) {
  return {
    ...standing,
    reading: which,
    next: null,
    wordsFromS: standing.readS,
    openingRead: standing.openingRead || which === "opening",
    closingRead: standing.closingRead || which === "closing",
  };
}

/** @param {Standing} standing @returns {Standing} */
function articleBegun(standing) {
  return { ...wordsOver(standing), articles: standing.articles + 1, turns: 0 };
}

/** @param {Standing} standing @returns {Standing} */
function wordsOver(standing) {
  return { ...standing, reading: null };
}

/**
 * What a control asks of the page as things stand; null where it does nothing now.
 *
 * @param {Standing} standing
 * @param {import("./keys.js").Action} action
 * @returns {Command | null}
 */
export function asked(standing, action) {
  const { phase, next } = standing;
  if (action === "help") return standing.help === "asking" ? null : "ask-help";
  if (action === "time") return "tell-time";
  if (standing.sentBack !== null) {
    const wanted = askedSentBack(standing, standing.sentBack, action);
    if (wanted !== undefined) return wanted;
  }
  if (action === "main") {
    if (phase === "rolling") return "hold";
    if (phase === "held") return "roll";
    if (phase === "lost") return "microphone";
    if (phase === "leaving") return "stay";
    if (phase === "stopped") return standing.canTakeOver ? "take-over" : "reload";
    return null;
  }
  if (action === "hear") {
    if (phase !== "held" || standing.readS === 0) return null;
    return standing.hearing ? "stop-playing" : "play";
  }
  if (phase !== "rolling" && phase !== "held") return null;
  if (action === "again") return controls(standing).again ? "again" : null;
  if (action === "undo") return controls(standing).undo ? "undo" : null;
  // What is heard while the lead-in plays is outside: nothing begins in it.
  if (standing.leading !== null) return "not-yet";
  if (action === "article") {
    if (!controls(standing).article) return null;
    if (phase === "rolling") return "mark-article";
    return next === "article" ? "not-next" : "next-article";
  }
  const which = controls(standing).words;
  if (which === null) return null;
  if (phase === "rolling") return which === "opening" ? "mark-opening" : "mark-closing";
  if (next === which) return "not-next";
  return which === "opening" ? "next-opening" : "next-closing";
}

/**
 * Which controls there are, and what stands on them. What does nothing is not there.
 *
 * @param {Standing} standing
 * @returns {{main: string | null, again: boolean, undo: boolean, article: boolean,
 *   words: Which | null, hear: boolean, handIn: boolean}}
 */
export function controls(standing) {
  const { phase } = standing;
  const main = mainWord(standing);
  if (standing.sentBack !== null) return { main, ...controlsSentBack(standing, standing.sentBack) };
  const going = phase === "rolling" || phase === "held";
  const started = standing.rolledHere || standing.readS > 0;
  return {
    main,
    again: going && standing.rolledHere,
    undo: going && standing.canUndo,
    article: going && started && !standing.facts.tryOut,
    words: going && started ? wordsOffered(standing) : null,
    hear: phase === "held" && standing.readS > 0,
    handIn: phase === "held" && standing.readS > 0,
  };
}

/** @param {Standing} standing @returns {string | null} */
function mainWord(standing) {
  switch (standing.phase) {
    case "rolling":
      return MAIN.hold;
    case "held":
      if (standing.sentBack !== null) return mainSentBack(standing.sentBack);
      if (standing.readS === 0) return MAIN.begin;
      return standing.facts.tryOut ? MAIN.goOn : MAIN.readOn;
    case "lost":
      return MAIN.microphone;
    case "stopped":
      return standing.canTakeOver ? MAIN.takeOver : MAIN.reload;
    case "leaving":
      return standing.facts.tryOut ? MAIN.goOn : MAIN.readOn;
    case "getting-ready":
      return null;
  }
}

/** @param {Standing} standing @returns {Which | null} */
function wordsOffered(standing) {
  const { facts } = standing;
  // Opening words that went wrong are read again before the first article, never after it.
  const again = standing.phase === "held" && standing.reading === "opening";
  if (facts.hasOpening && standing.articles === 0 && (again || !standing.openingRead)) {
    return "opening";
  }
  return facts.hasClosing && standing.reading !== "opening" ? "closing" : null;
}

/**
 * Which fixed words stand on the page: those that come next, are being read, or come soon.
 *
 * @param {Standing} standing
 * @param {boolean} closingNear Whether the time for the closing words comes near.
 * @returns {string | null}
 */
export function wordsShown(standing, closingNear) {
  if (!["getting-ready", "held", "rolling"].includes(standing.phase)) return null;
  if (standing.sentBack !== null) return `sent-back-${standing.sentBack.index}`;
  if (standing.next === "opening" || standing.next === "closing") return standing.next;
  if (standing.next === "article") return null;
  if (standing.reading !== null) return standing.reading;
  return closingNear && standing.facts.hasClosing && !standing.closingRead ? "closing" : null;
}

/**
 * The state as a sentence, and what follows from it.
 *
 * @param {Standing} standing
 * @returns {{sentence: string, more: string}}
 */
export function said(standing) {
  switch (standing.phase) {
    case "getting-ready":
      return { sentence: STATE.gettingReady, more: "" };
    case "rolling":
      if (standing.leading === null) {
        return { sentence: STATE.rolling, more: standing.sentBack === null ? "" : SENT.rolling };
      }
      return {
        sentence: LEADING[standing.leading],
        more: standing.sentBack === null ? "" : SENT.leading,
      };
    case "lost":
      return { sentence: STATE.lost, more: standing.told || MORE.lost };
    case "stopped":
      return { sentence: STATE.stopped, more: standing.told || MORE.stopped };
    case "leaving":
      return {
        sentence: STATE.leaving,
        more:
          standing.station === "well" ? LEAVING.sending(standing.behindS) : LEAVING.away,
      };
    case "held":
      return saidHeld(standing);
  }
}

/** @param {Standing} standing */
function saidHeld(standing) {
  const { next, facts, sentBack } = standing;
  if (sentBack !== null) return saidSentBack(sentBack);
  if (facts.tryOut) {
    return { sentence: standing.readS === 0 ? STATE.tryOut : STATE.tryOutHeld, more: "" };
  }
  if (standing.readS === 0) {
    return { sentence: next === "opening" ? STATE.opening : STATE.firstWords, more: "" };
  }
  if (next === "article") return { sentence: STATE.nextArticle, more: "" };
  if (next === "opening") return { sentence: STATE.nextOpening, more: "" };
  if (next === "closing") return { sentence: STATE.nextClosing, more: "" };
  if (standing.reading === "closing") return { sentence: STATE.closed, more: MORE.closed };
  if (standing.rolledHere) return { sentence: STATE.held, more: "" };
  return { sentence: STATE.goOn, more: MORE.goOn(standing.readS) };
}

/**
 * What stands on the control for fixed words.
 *
 * @param {Standing} standing
 * @param {Which} which
 */
export function wordsLabel(standing, which) {
  if (standing.phase === "held" && standing.next === which) {
    return which === "opening" ? WORDS.noOpening : WORDS.noClosing;
  }
  return WORDS[which];
}

/** @param {Help} help */
export function helpSaid(help) {
  return help === "none" ? "" : HELP[help];
}

/**
 * What the microphone hears, and what becomes of it.
 *
 * @param {Standing} standing
 * @param {"voice" | "quiet" | "nothing"} comes
 */
export function heardSaid({ phase, readS, rolledHere, leading }, comes) {
  if (phase === "rolling" && leading !== null) return HEARD.leading;
  if (phase === "getting-ready" || phase === "lost") return HEARD.off;
  if (phase === "stopped" || phase === "leaving") return HEARD.notKept;
  if (phase === "held" && readS === 0 && !rolledHere) {
    return comes === "voice" ? HEARD.firstVoice : HEARD.first;
  }
  if (phase === "held") return comes === "voice" ? HEARD.heldVoice : HEARD.held;
  return { voice: HEARD.voice, quiet: HEARD.quiet, nothing: HEARD.still }[comes];
}

/**
 * How far the station's copy has got, in words at the reader's pace.
 *
 * @param {Standing} standing
 * @param {number} paceWpm
 */
export function savedSaid(standing, paceWpm) {
  const { behindS, phase, station } = standing;
  if (station === "away" || station === "trouble") {
    const away = phase === "rolling" ? SAVED.away : SAVED.awayHeld;
    const first = station === "trouble" ? standing.stationSays || SAVED.trouble : away;
    return behindS >= 1 ? `${first} ${SAVED.behind(behindS)}` : first;
  }
  if (station !== "well") return standing.stationSays;
  if (standing.readS === 0 && standing.unsent === 0) return SAVED.nothing;
  if (standing.unsent === 0 && phase !== "rolling") return SAVED.all;
  const words = Math.round((behindS * paceWpm) / 60);
  if (words === 0) return SAVED.last;
  const told = SAVED.words[words];
  return told === undefined
    ? SAVED.seconds(behindS)
    : `${SAVED.last.replace(/\.$/, "")} ${told}.`;
}
