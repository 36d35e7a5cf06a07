// Every word that the stand's script shows or says; another language is another module like it.

export const STATE = {
  gettingReady: "Getting the microphone ready.",
  opening: "Opening words. Breathe first, then press and read.",
  firstWords: "Breathe first, then press and read.",
  goOn: "Held. Read on from where you left off.",
  rolling: "You are being recorded.",
  held: "Held. Turn your page.",
  heldAgain: "Held. That one is read again.",
  nextArticle: "Held. A new article comes next.",
  nextOpening: "Held. Press and read the opening words.",
  nextClosing: "Held. Press and read the closing words.",
  closed: "Held. Your closing words are read.",
  lost: "The microphone is gone.",
  tryOut: "Breathe first, then press and speak.",
  tryOutHeld: "Held.",
  stopped: "Nothing is recorded here now.",
  leaving: "Handing in.",
};

/** A sentence is taken again, and what comes before it is played. */
export const LEADING = {
  sentence: "Listen, then read on from here.",
  further: "One sentence further back. Listen, then read on from here.",
  picked: "From the place you picked. Listen, then read on from here.",
};
export const FROM_START = "From the very beginning. Read on.";
export const READ_ON = "Read on.";
export const UNDONE = "The old sentence is back. Go on from where you had stopped.";
export const NOT_UNDONE = "That sentence cannot be had back any more: too much has been read since.";
/** Where more was wanted than is in memory: nothing of it is, or the last of it. */
export const NOT_IN_MEMORY = {
  nothing: (/** @type {number} */ agoS) =>
    `That sentence began ${duration(agoS)} ago, and what comes before it is not in this page’s memory any more. Read the sentence from its start.`,
  last: "Only the last of what comes before that sentence is still in this page’s memory: listen, then read on.",
};
export const NOT_PLAYED = {
  leading: "Nothing can be played just now. Read on, from the start of the sentence.",
  held: "Nothing can be played just now. Look at the headphones and their plug.",
};
export const NOT_YET = "Not while you listen. Press it once you read on.";
export const READ_ON_ARTICLE =
  "Read on. “New article” is marked here now; press it again if the article begins later.";

/** What the desk sent back is read again. */
export const AGAIN_SENT = (
  /** @type {"sentence" | "place"} */ unit,
  /** @type {number} */ number,
  /** @type {number} */ count,
) =>
  count === 1
    ? `One ${unit} to read again.`
    : `${unit === "sentence" ? "Sentence" : "Place"} ${number} of ${count} to read again.`;
export const SENT = {
  how: "Find it in your paper. Press “Begin”: you hear what comes before it, then read it to its end. “Hear it” plays it as it is now.",
  wasRead: "You have read this one again already. “Hear it” plays it in its place; “Begin” reads it once more.",
  isRead: "“Hear it” plays it in its place. If it is not good yet, press “Again”.",
  allRead: "That was the last one. “Hear it” plays it in its place; if it is not good yet, press “Again”.",
  leading: "Then read it to its end, and press “Hold”.",
  rolling: "Read it to its end, then press “Hold”.",
  moment: "One moment: it is put in its place.",
  next: { sentence: "Next sentence", place: "Next place" },
  other: "Another one",
  readOn: "Now read it.",
  handIn: "Hand in",
  hearing: "You hear it in its place. It changes nothing.",
  hearingHere: "The station does not have it yet: you hear what you read.",
  noLeadIn: "What comes before it cannot be played just now. Press again in a moment, or read it from its start.",
};

export const MORE = {
  goOn: (/** @type {number} */ readS) =>
    `${readAlready(readS)} read already. Press “Hear it” to find the place.`,
  closed: "You can stop here, or read on.",
  lost: "You are held, and all that you read is kept. Put its plug in again, then press “Try again”, or choose another one.",
  stopped: "Load this page again to go on, or ask for help.",
};

export const MAIN = {
  begin: "Begin",
  readOn: "Read on",
  hold: "Hold",
  goOn: "Go on",
  microphone: "Try again",
  takeOver: "Record here instead",
  reload: "Load this page again",
};

export const AGAIN = "Again";
export const UNDO = "Undo";
export const ARTICLE = { mark: "New article" };
export const WORDS = {
  opening: "Opening words",
  closing: "Closing words",
  noClosing: "Not the closing words",
  noOpening: "Not the opening words",
};
export const HEAR = { play: "Hear it", stop: "Stop" };
export const HELP = {
  ask: "Ask for help",
  asking: "The desk is being told.",
  asked: "The desk has been told. This says when somebody has seen it.",
  seen: "Somebody at the desk has seen that you asked for help.",
  failed: "The station did not answer. Press again in a moment.",
};

/** What is wrong, in words; core/advice.js says when. */
export const ADVICE = {
  "no-sound": "Nothing comes from the microphone. Look at its plug and its switch.",
  "not-heard": "No voice is heard. Is this the right microphone, and is it switched on?",
  clipping: "Too loud for the microphone. Sit back a little, or turn it down.",
  "too-loud": "A little loud. Sit back: about 15 to 20 cm, a little to the side.",
  "too-quiet": "A little quiet. Come closer: about 15 to 20 cm, a little to the side.",
  "room-loud": "The room has become loud. Hold until it is over, or close what lets it in.",
};
export const REST = (/** @type {number} */ minutes) =>
  `You have read for ${inWords(minutes)} minutes. Rest your voice a little: while held, no time runs.`;
export const TWICE = "Doses, prices and warnings: word for word, and twice.";
export const ARTICLE_MARKED = "New article, marked.";
/** It is told while the stand goes on: there is nothing to press. */
export const MUTED =
  "The microphone is switched off. Look for a switch on it, or a key on the keyboard with a microphone on it.";
export const WORDS_MARKED = { opening: "Opening words, marked.", closing: "Closing words, marked." };

export const CLOCK = {
  left: "left",
  toRead: "to read",
  over: "too long",
  minutes: "minutes",
  minute: "minute",
  seconds: "seconds",
  second: "second",
};
/** Where the reading stands against its window; nothing to say is "". */
export const STAGE = {
  reading: "",
  "look-for-end": "Look for a place to end.",
  "begin-closing": "Time for the closing words: press “Closing words”, and read them.",
  closing: "",
  over: "Past the end of the window. Come to an end.",
};
export const END_NOW = "Come to an end now.";

export const HEARD = {
  voice: "The microphone hears you.",
  quiet: "The microphone hears no voice.",
  heldVoice: "The microphone hears you. While held, nothing you say is kept.",
  held: "While held, nothing you say is kept.",
  leading: "What the microphone hears now is left out, until you read on.",
  firstVoice: "The microphone hears you. Nothing is kept before you begin.",
  first: "Nothing is kept before you begin.",
  still: "Nothing comes from the microphone just now.",
  notKept: "Nothing you say now is kept.",
  off: "The microphone is off.",
};

export const SAVED = {
  nothing: "Nothing is recorded yet.",
  all: "All of it is safe on the station’s disk.",
  last: "Safe on the station’s disk up to your last word.",
  words: ["", "but one", "but two", "but three"],
  seconds: (/** @type {number} */ seconds) =>
    `The station’s copy is ${duration(seconds)} behind you.`,
  away: "The station is not answering. Read on; everything is kept here and will be sent.",
  awayHeld: "The station is not answering. Everything is kept here and will be sent.",
  behind: (/** @type {number} */ seconds) => `Its copy is ${duration(seconds)} behind.`,
  trouble: "The station cannot write just now. Read on; everything is kept here and will be sent.",
};

export const LATE =
  "This reading was gone on with elsewhere. What was read here goes to the station as a reading of its own, and the desk is told.";

export const LEAVING = {
  sending: (/** @type {number} */ seconds) =>
    `The last ${duration(seconds)} go to the station’s disk. This page goes on by itself.`,
  away: "The station is not answering. Everything is kept here; this page goes on when it is sent.",
};

export const MISSING = (/** @type {number} */ seconds) =>
  `About ${duration(Math.max(1, seconds))} were not heard. Hold, and read that sentence again.`;
export const HEARING = "You hear what you read. It changes nothing.";
export const NOTHING_TO_HEAR = "There is nothing to hear yet.";
export const NO_PASS = "The station did not open this reading. Load the page again, or ask the desk.";

export const STRIP = {
  name: "The last half minute",
  nothing: "Nothing has been read on this page yet.",
  twin: (
    /** @type {number} */ count,
    /** @type {boolean} */ growing,
    /** @type {number} */ out = 0,
  ) =>
    `In the last half minute: ${counted(count, "stretch", "stretches")} of speech${
      out > 0 ? `, ${inWords(out)} of them left out` : ""
    }${growing ? ", and you are speaking now" : ""}.`,
  /** How long it is and how long ago, whatever picking it does. */
  hear: (/** @type {string} */ block) => `Hear ${block}`,
  again: (/** @type {string} */ block) => `Again from here: ${block}`,
  block: (
    /** @type {number} */ agoS,
    /** @type {number} */ lengthS,
    /** @type {"" | "left out" | "read again"} */ became,
  ) =>
    `${duration(lengthS)} of speech, from ${duration(agoS)} ago${became === "" ? "" : `, ${became}`}`,
};

export const COLUMN = {
  name: "How full the slot is",
  /** It is told once a minute: seconds would be untrue soon. */
  read: (/** @type {number} */ readS, /** @type {number} */ longestS) => {
    const minutes = Math.floor(readS / 60);
    const read = minutes === 0 ? "less than a minute" : counted(minutes, "minute", "minutes");
    return capital(`${readS === 0 ? "nothing" : read} read, of at most ${duration(longestS)}.`);
  },
  closing: "closing words",
};

export const KEYS = {
  press: "Press the key now. Escape leaves it as it was.",
  pressPedal: "Press the pedal now. Escape leaves it as it was.",
  learned: (/** @type {string} */ name) => `That is “${name}” now.`,
  pedalLearned: (/** @type {string} */ name) => `The pedal is set up. It sends “${name}”.`,
  system: "That key belongs to the browser. Press another one.",
  taken: (/** @type {string} */ what) => `That key is taken already, for “${what}”. Press another.`,
  left: "It stays as it was.",
  pedals: { pedal: "the pedal", pedalAgain: "the pedal for Again" },
  none: "none yet",
  names: {
    main: "Begin, hold, read on",
    again: "Again",
    undo: "Undo",
    article: "New article",
    words: "Closing words",
    hear: "Hear it",
    help: "Ask for help",
    time: "Time left",
  },
  changeWord: "Change",
  change: (/** @type {string} */ what) => `Change the key for ${what}`,
};

/** What somebody who practises does next; keys are written as they are at first. */
export const GUIDE = {
  begin: "Press the large control, or its key, and read these words aloud.",
  opening: "Read them to the end. Then press “New article” and go on with the next words you see.",
  markFirst: "Press “New article”, then the large control, and read this page.",
  slip: "Read this page. In its second sentence slip, stop, and press “Again”: you hear what comes before it.",
  leading: "Listen: what you say now is left out. Then read that sentence from its start.",
  afterAgain:
    "Read that sentence from its start, and on: your slip is left out. At the end of the page press “Hold”.",
  page: "Read this page. At its end press “Hold”, in the middle of its sentence.",
  turn: "Turn your page: it may rustle. Then press “Read on”, and read this one.",
  readOn: "Now press “Read on”, and read this page.",
  lastPage: "Read this page. At its end press “Closing words”, and read them.",
  closingSoon: "Press “Closing words”, then the large control, and read them.",
  closingNext: "Press the large control, and read the closing words.",
  closing: "Read them to the end, then press “Hold”.",
  done: "That is all. Press “See how it went”.",
  tryOut: "Say whatever you like: press the large control, and speak.",
  tryOutRolling: "Press “Hold” when you have said enough.",
  tryOutHeld: "Press “See how it went”, or “Go on” to say more.",
};

const WORDS_TO_TWELVE = [
  "no",
  "one",
  "two",
  "three",
  "four",
  "five",
  "six",
  "seven",
  "eight",
  "nine",
  "ten",
  "eleven",
  "twelve",
];

/**
 * A whole number as it is said in a sentence.
 *
 * @param {number} count
 */
export function inWords(count) {
  const tens = { 20: "twenty", 30: "thirty", 40: "forty", 50: "fifty" };
  return WORDS_TO_TWELVE[count] ?? tens[/** @type {20} */ (count)] ?? String(count);
}

/**
 * @param {number} count
 * @param {string} one
 * @param {string} more
 */
export function counted(count, one, more) {
  return `${inWords(count)} ${count === 1 ? one : more}`;
}

/**
 * A length as people say it: whole seconds under a minute and a half, then minutes.
 *
 * @param {number} timeS
 */
export function duration(timeS) {
  const seconds = Math.max(0, Math.round(timeS));
  if (seconds < 90) return counted(seconds, "second", "seconds");
  return counted(Math.round(seconds / 60), "minute", "minutes");
}

/**
 * Time left, as it is said: "3 minutes 20 left".
 *
 * @param {import("../core/pacing.js").Time} left
 */
export function timeLeft({ over, minutes, seconds }) {
  const told = [];
  if (minutes > 0) told.push(`${minutes} ${minutes === 1 ? CLOCK.minute : CLOCK.minutes}`);
  if (minutes === 0) told.push(`${seconds} ${seconds === 1 ? CLOCK.second : CLOCK.seconds}`);
  else if (seconds > 0) told.push(String(seconds));
  return `${told.join(" ")} ${over ? CLOCK.over : CLOCK.left}`;
}

/**
 * A warning, so long before the end.
 *
 * @param {number} minutes
 */
export function warning(minutes) {
  return `${capital(inWords(minutes))} ${minutes === 1 ? "minute" : "minutes"} left.`;
}

/**
 * What has been read, where no time is set.
 *
 * @param {number} readS
 */
export function readSoFar(readS) {
  return capital(`${duration(readS)} read`);
}

/**
 * What was read before: "38 seconds are", "One minute is".
 *
 * @param {number} readS
 */
function readAlready(readS) {
  const told = capital(duration(Math.max(1, readS)));
  return `${told} ${told.endsWith("s") ? "are" : "is"}`;
}

/** @param {string} words */
function capital(words) {
  return words.replace(/^./, (letter) => letter.toUpperCase());
}

/**
 * What the time left is in print.
 *
 * @param {number} words Rounded already.
 * @param {number | null} items
 * @param {boolean} own Whether the pace is this reader's own.
 */
export function inPrint(words, items, own) {
  if (words === 0) return "";
  const told = `about ${words.toLocaleString("en-GB")} words at ${own ? "your" : "a usual"} pace`;
  return items === null || items < 1 ? told : `${told}, or ${counted(items, "article", "articles")}`;
}
