import assert from "node:assert/strict";
import { test } from "node:test";

import {
  after,
  asked,
  begun,
  controls,
  said,
  wordsShown,
} from "../../../src/quietleaf/web/static/scripts/core/standing.js";
import { following, nextUnread } from "../../../src/quietleaf/web/static/scripts/core/sent_back.js";

const FACTS = {
  hasOpening: true,
  hasClosing: true,
  openingRead: true,
  closingRead: true,
  recordedS: 900,
  articles: 3,
  restAfterS: 2400,
  openingS: 10,
  tryOut: false,
  sentBack: [false, false, false],
  sentBackUnit: "sentence",
};
const again = { what: "again", how: "sentence", unread: [] };
const led = { what: "led" };
const held = { what: "held" };
const on = (standing, ...happenings) => happenings.reduce(after, standing);
const ready = (facts = {}) => on(begun({ ...FACTS, ...facts }), { what: "ready" });
const wasRead = (standing) => on(standing, again, led, held);

test("one key leads through all of it: begin, hold, next, and in the end hand in", () => {
  let standing = ready();
  for (const number of [1, 2, 3]) {
    assert.equal(said(standing).sentence, `Sentence ${number} of 3 to read again.`);
    assert.equal(wordsShown(standing, false), `sent-back-${number - 1}`);
    assert.equal(controls(standing).main, "Begin");
    assert.equal(asked(standing, "main"), "begin-place");
    standing = on(standing, again);
    assert.match(said(standing).sentence, /^Listen, then read on/);
    assert.match(said(standing).more, /to its end/);
    assert.equal(asked(standing, "main"), "hold");
    standing = on(standing, led);
    assert.equal(said(standing).sentence, "You are being recorded.");
    assert.equal(asked(standing, "main"), "hold");
    standing = on(standing, held);
    if (number < 3) {
      assert.equal(controls(standing).main, "Next sentence");
      assert.equal(asked(standing, "main"), "next-place");
      standing = on(standing, { what: "place", index: nextUnread(standing.sentBack) });
    }
  }
  assert.equal(controls(standing).main, "Hand in");
  assert.equal(asked(standing, "main"), "leave");
  // It stands on the main control, and is not there twice.
  assert.equal(controls(standing).handIn, false);
});

test("held before it was read: it can be heard, begun, handed in, or another one taken", () => {
  const { again: isThere, article, words, hear, handIn, undo } = controls(ready());
  assert.deepEqual(
    { isThere, article, words, hear, handIn, undo },
    { isThere: false, article: true, words: null, hear: true, handIn: true, undo: false },
  );
  assert.equal(asked(ready(), "article"), "other-place");
  assert.equal(asked(ready(), "words"), null);
  assert.equal(asked(ready(), "again"), null);
  assert.equal(asked(ready(), "hear"), "play");
});

test("held while the lead-in plays, it is begun anew", () => {
  const standing = on(ready(), again, held);
  assert.equal(controls(standing).main, "Begin");
  assert.deepEqual(standing.sentBack.read, [false, false, false]);
});

test("what was read can be read again, and then the one before can be had back", () => {
  const first = on(wasRead(ready()), { what: "may-undo", may: true });
  assert.equal(asked(first, "again"), "again");
  // Of the first try there is no sentence to have back.
  assert.equal(asked(first, "undo"), null);
  const second = on(first, again);
  assert.equal(asked(second, "undo"), "undo");
  assert.equal(asked(on(second, led), "again"), "again");
});

test("what is read is gone over once more only if the reader wishes; what is left comes next", () => {
  const standing = ready({ sentBack: [true, false, true] });
  assert.equal(standing.sentBack.index, 1);
  assert.equal(nextUnread(wasRead(standing).sentBack), null);
  const other = on(standing, { what: "place", index: following(standing.sentBack) });
  assert.equal(other.sentBack.index, 2);
  assert.match(said(other).more, /already/);
  assert.equal(nextUnread(other.sentBack), 1);
  assert.equal(following({ ...other.sentBack }), 0);
});

test("one alone has no other, and no number", () => {
  const standing = ready({ sentBack: [false], sentBackUnit: "place" });
  assert.equal(said(standing).sentence, "One place to read again.");
  assert.equal(controls(standing).article, false);
  assert.equal(controls(wasRead(standing)).main, "Hand in");
});

test("what breaks off in the midst of a sentence is not read", () => {
  for (const broken of [
    { what: "lost", sentence: "It is gone." },
    { what: "stopped", sentence: "Somebody took it over.", canTakeOver: true },
    { what: "held", broken: true },
  ]) {
    const standing = on(ready(), again, led, broken);
    assert.deepEqual(standing.sentBack.read, [false, false, false]);
    assert.equal(standing.sentBack.tried, false);
  }
  // Once it is held, nothing can break it off any more.
  const standing = on(wasRead(ready()), { what: "lost", sentence: "It is gone." });
  assert.deepEqual(standing.sentBack.read, [true, false, false]);
});

test("a microphone that goes is told as in any reading", () => {
  const lost = on(ready(), again, { what: "lost", sentence: "It is gone." });
  assert.equal(asked(lost, "main"), "microphone");
  assert.equal(controls(lost).main, "Try again");
});
