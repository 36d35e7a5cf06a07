import assert from "node:assert/strict";
import { test } from "node:test";

import {
  after,
  asked,
  begun,
  controls,
  heardSaid,
  said,
  savedSaid,
  wordsLabel,
  wordsShown,
} from "../../../src/quietleaf/web/static/scripts/core/standing.js";

const FACTS = {
  hasOpening: true,
  hasClosing: true,
  openingRead: false,
  closingRead: false,
  recordedS: 0,
  articles: 0,
  restAfterS: 2400,
  openingS: 10,
  tryOut: false,
  sentBack: [],
  sentBackUnit: "sentence",
};
const ready = (facts = {}) => after(begun({ ...FACTS, ...facts }), { what: "ready" });
const on = (standing, ...happenings) => happenings.reduce(after, standing);
const rolled = { what: "rolled" };
const held = { what: "held" };
const read = (readS) => ({ what: "read", readS });

test("it gets ready, and nothing but help can be asked for", () => {
  const standing = begun(FACTS);
  assert.equal(said(standing).sentence, "Getting the microphone ready.");
  assert.equal(asked(standing, "main"), null);
  assert.equal(asked(standing, "article"), null);
  assert.equal(asked(standing, "help"), "ask-help");
});

test("the first press begins the opening words; the next holds", () => {
  const first = ready();
  assert.match(said(first).sentence, /^Opening words\./);
  assert.equal(wordsShown(first, false), "opening");
  assert.equal(controls(first).main, "Begin");
  assert.equal(asked(first, "main"), "roll");
  const rolling = on(first, rolled);
  assert.equal(said(rolling).sentence, "You are being recorded.");
  assert.equal(rolling.openingRead, true);
  assert.equal(wordsShown(rolling, false), "opening");
  assert.equal(asked(rolling, "main"), "hold");
  const now = on(rolling, read(5), held);
  assert.equal(said(now).sentence, "Held. Turn your page.");
  assert.equal(controls(now).main, "Read on");
});

test("before the first word there is nothing to mark, to hear or to hand in", () => {
  const { article, words, hear, handIn } = controls(ready());
  assert.deepEqual({ article, words, hear, handIn }, {
    article: false,
    words: null,
    hear: false,
    handIn: false,
  });
});

test("the opening words leave with the first article, or when they must be over", () => {
  const rolling = on(ready(), rolled, read(3));
  assert.equal(wordsShown(on(rolling, { what: "marked" }), false), null);
  assert.equal(wordsShown(on(rolling, read(24.9)), false), "opening");
  assert.equal(wordsShown(on(rolling, read(25.1)), false), null);
});

test("opening words that went wrong can be read again while no article has begun", () => {
  const now = on(ready(), rolled, read(5), held);
  assert.equal(controls(now).words, "opening");
  assert.equal(asked(now, "words"), "next-opening");
  const next = on(now, { what: "next", next: "opening" });
  assert.equal(said(next).sentence, "Held. Press and read the opening words.");
  assert.equal(wordsLabel(next, "opening"), "Not the opening words");
  assert.equal(asked(next, "words"), "not-next");
});

test("an article is marked while rolling, and comes next while held until it is taken back", () => {
  const rolling = on(ready(), rolled, read(12));
  assert.equal(asked(rolling, "article"), "mark-article");
  const now = on(rolling, { what: "marked" }, read(60), held);
  assert.equal(now.articles, 1);
  assert.equal(asked(now, "article"), "next-article");
  const next = on(now, { what: "next", next: "article" });
  assert.equal(said(next).sentence, "Held. A new article comes next.");
  assert.equal(asked(next, "article"), "not-next");
  assert.equal(on(next, rolled).articles, 2);
  assert.equal(on(next, { what: "next", next: null }, rolled).articles, 1);
});

test("closing words stand on the page when they are due, and while they are read", () => {
  const rolling = on(ready(), rolled, read(12), { what: "marked" }, read(3300));
  assert.equal(controls(rolling).words, "closing");
  assert.equal(wordsShown(rolling, false), null);
  assert.equal(wordsShown(rolling, true), "closing");
  assert.equal(asked(rolling, "words"), "mark-closing");
  const closing = on(rolling, { what: "words", which: "closing" });
  assert.equal(wordsShown(closing, true), "closing");
  const now = on(closing, read(3320), held);
  assert.equal(said(now).sentence, "Held. Your closing words are read.");
  assert.equal(controls(now).handIn, true);
});

test("once read, closing words are not asked for again", () => {
  const again = ready({ recordedS: 3000, articles: 3, openingRead: true, closingRead: true });
  assert.equal(wordsShown(again, true), null);
  assert.deepEqual(said(again), {
    sentence: "Held. Read on from where you left off.",
    more: "Fifty minutes are read already. Press “Hear it” to find the place.",
  });
  assert.equal(asked(again, "hear"), "play");
  assert.equal(controls(again).hear, true);
});

test("a microphone that went holds; the main control is the way back", () => {
  const lost = on(ready(), rolled, read(7), { what: "lost", sentence: "It was pulled out." });
  assert.deepEqual(said(lost), {
    sentence: "The microphone is gone.",
    more: "It was pulled out.",
  });
  assert.equal(asked(lost, "main"), "microphone");
  assert.equal(asked(lost, "article"), null);
  assert.equal(said(on(lost, { what: "ready" })).sentence, "Held. Turn your page.");
});

test("another place that records this reading stops it here, and can be taken over", () => {
  const stopped = on(ready(), { what: "stopped", sentence: "Ada is recording it.", canTakeOver: true });
  assert.equal(said(stopped).more, "Ada is recording it.");
  assert.equal(asked(stopped, "main"), "take-over");
  const refused = on(ready(), { what: "stopped", sentence: "No.", canTakeOver: false });
  assert.equal(asked(refused, "main"), "reload");
  assert.equal(controls(refused).main, "Load this page again");
});

const busy = { what: "stopped", sentence: "Ada is recording it.", canTakeOver: true };

test("who was stopped before the microphone was ready can still take over", () => {
  const stopped = on(begun(FACTS), busy, { what: "ready" });
  assert.equal(said(stopped).more, "Ada is recording it.");
  assert.equal(asked(stopped, "main"), "take-over");
  assert.equal(on(stopped, { what: "resumed" }).phase, "held");
});

test("who takes over goes on as the microphone stands", () => {
  assert.equal(on(begun(FACTS), busy, { what: "resumed" }).phase, "getting-ready");
  const lost = on(begun(FACTS), busy, { what: "lost", sentence: "It was pulled out." });
  assert.equal(asked(lost, "main"), "take-over");
  assert.equal(asked(on(lost, { what: "resumed" }), "main"), "microphone");
});

test("who tries it out is told of no page, no article and nothing to read", () => {
  const first = ready({ hasOpening: false, hasClosing: false, tryOut: true });
  assert.equal(said(first).sentence, "Breathe first, then press and speak.");
  const now = on(first, rolled, read(8), held);
  assert.equal(said(now).sentence, "Held.");
  const { main, article, words, hear, handIn } = controls(now);
  assert.deepEqual([main, article, words, hear, handIn], ["Go on", false, null, true, true]);
  assert.equal(asked(now, "article"), null);
});

test("a rest is suggested at the first hold after forty minutes, and after forty more", () => {
  const longer = on(ready(), rolled, read(2399), held);
  assert.equal(longer.rest, false);
  const rest = on(longer, rolled, read(2400), held);
  assert.equal(rest.rest, true);
  assert.equal(on(rest, rolled).rest, false);
  assert.equal(on(rest, rolled, read(3000), held).rest, false);
  assert.equal(on(rest, rolled, read(4800), held).rest, true);
  // What was read on another day tires nobody today.
  assert.equal(on(ready({ recordedS: 2000 }), rolled, read(2500), held).rest, false);
});

test("what is played stops nothing, and rolling ends it", () => {
  const now = on(ready(), rolled, read(9), held);
  assert.equal(asked(now, "hear"), "play");
  const hearing = on(now, { what: "hearing", on: true });
  assert.equal(asked(hearing, "hear"), "stop-playing");
  assert.equal(asked(hearing, "main"), "roll");
  assert.equal(on(hearing, rolled).hearing, false);
  assert.equal(asked(on(hearing, rolled), "hear"), null);
});

test("handing in waits for what is unsent, and can be left", () => {
  const leaving = on(
    ready(),
    rolled,
    read(9),
    held,
    { what: "station", station: "well", behindS: 3, unsent: 9000, sentence: "" },
    { what: "leave" },
  );
  assert.match(said(leaving).more, /three seconds/);
  assert.equal(asked(leaving, "main"), "stay");
  const away = on(leaving, { what: "station", station: "away", behindS: 3, unsent: 1, sentence: "" });
  assert.match(said(away).more, /not answering/);
});

const station = (station, behindS, unsent = 1, sentence = "") => ({
  what: "station",
  station,
  behindS,
  unsent,
  sentence,
});

test("what is heard is said, and that nothing is kept where that is so", () => {
  assert.equal(heardSaid(begun(FACTS), "quiet"), "The microphone is off.");
  assert.equal(heardSaid(ready(), "quiet"), "Nothing is kept before you begin.");
  assert.match(heardSaid(ready(), "voice"), /^The microphone hears you\. Nothing is kept before/);
  const rolling = on(ready(), rolled, read(3));
  assert.equal(heardSaid(rolling, "voice"), "The microphone hears you.");
  assert.equal(heardSaid(rolling, "quiet"), "The microphone hears no voice.");
  assert.equal(heardSaid(on(rolling, busy), "voice"), "Nothing you say now is kept.");
  assert.equal(heardSaid(on(rolling, held), "quiet"), "While held, nothing you say is kept.");
});

test("how far the station's copy has got is said in words at the reader's pace", () => {
  const rolling = on(ready(), rolled, read(60));
  const told = (...detail) => savedSaid(on(rolling, station(...detail)), 150);
  assert.equal(savedSaid(ready(), 150), "Nothing is recorded yet.");
  assert.equal(told("well", 0.1), "Safe on the station’s disk up to your last word.");
  assert.equal(told("well", 0.4), "Safe on the station’s disk up to your last word but one.");
  assert.equal(told("well", 0.8), "Safe on the station’s disk up to your last word but two.");
  assert.equal(told("well", 4), "The station’s copy is four seconds behind you.");
  assert.match(told("away", 0.2), /^The station is not answering. Read on; everything is kept here/);
  assert.match(told("away", 190), /Its copy is three minutes behind\.$/);
  assert.equal(told("trouble", 0, 1, "Its disk is full."), "Its disk is full.");
  const now = on(rolling, held, station("well", 0, 0));
  assert.equal(savedSaid(now, 150), "All of it is safe on the station’s disk.");
  assert.doesNotMatch(savedSaid(on(rolling, held, station("away", 9)), 150), /Read on/);
});

const again = (how = "sentence", unread = []) => ({ what: "again", how, unread });

test("a sentence is taken again while rolling and while held, never before anything was rolled", () => {
  assert.equal(asked(begun(FACTS), "again"), null);
  assert.equal(asked(ready(), "again"), null);
  const rolling = on(ready(), rolled, read(20));
  assert.equal(asked(rolling, "again"), "again");
  assert.equal(asked(on(rolling, held), "again"), "again");
  assert.equal(asked(on(rolling, { what: "lost", sentence: "" }), "again"), null);
  const stopped = on(rolling, { what: "stopped", sentence: "", canTakeOver: false });
  assert.equal(asked(stopped, "again"), null);
});

test("while its lead-in plays that is said, and nothing can be marked", () => {
  const leading = on(ready(), rolled, read(20), { what: "marked" }, again());
  assert.equal(said(leading).sentence, "Listen, then read on from here.");
  assert.match(heardSaid(leading, "voice"), /left out/);
  assert.equal(asked(leading, "article"), "not-yet");
  assert.equal(asked(leading, "words"), "not-yet");
  assert.equal(asked(leading, "main"), "hold");
  assert.equal(asked(leading, "undo"), "undo");
  const further = on(leading, again("further"));
  assert.match(said(further).sentence, /^One sentence further back\./);
  const led = on(further, { what: "led" });
  assert.equal(said(led).sentence, "You are being recorded.");
  assert.equal(led.agains, 1);
});

test("whatever ends recording ends a lead-in", () => {
  const leading = on(ready(), rolled, read(20), again());
  for (const ends of [
    held,
    { what: "lost", sentence: "" },
    { what: "stopped", sentence: "", canTakeOver: true },
  ]) {
    assert.equal(on(leading, ends).leading, null);
  }
});

test("from held it rolls, and what was to come next is not begun", () => {
  const next = on(ready(), rolled, read(20), held, { what: "next", next: "article" });
  const leading = on(next, again());
  assert.equal(leading.phase, "rolling");
  assert.equal(leading.articles, next.articles);
  assert.equal(leading.next, null);
});

test("closing words that were begun in what is read again are due again; undo has them back", () => {
  const closing = on(ready(), rolled, read(900), { what: "words", which: "closing" });
  const before = on(closing, again("sentence"), again("further", ["closing"]));
  assert.equal(before.closingRead, false);
  assert.equal(wordsShown(on(before, { what: "led" }), true), "closing");
  const back = on(before, { what: "undone" });
  assert.equal(back.closingRead, true);
  assert.equal(back.reading, "closing");
  assert.equal(back.leading, null);
  assert.equal(back.canUndo, false);
  assert.equal(on(closing, again()).reading, "closing");
});

test("how many articles there are follows what was left out", () => {
  assert.equal(on(ready(), rolled, { what: "articles", articles: 3 }).articles, 3);
});
