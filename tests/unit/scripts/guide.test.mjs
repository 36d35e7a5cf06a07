import assert from "node:assert/strict";
import { test } from "node:test";

import { guided } from "../../../src/quietleaf/web/static/scripts/core/guide.js";
import { after, begun } from "../../../src/quietleaf/web/static/scripts/core/standing.js";
import { GUIDE } from "../../../src/quietleaf/web/static/scripts/texts/stand.js";

const FACTS = {
  hasOpening: true,
  hasClosing: true,
  openingRead: false,
  closingRead: false,
  recordedS: 0,
  articles: 0,
  restAfterS: 2400,
  openingS: 60,
  tryOut: false,
  sentBack: [],
  sentBackUnit: "sentence",
};
const NEXT_ARTICLE = { what: "next", next: "article" };

test("a practice is led from the opening words over a page turn to the closing words", () => {
  const steps = [
    [{ what: "ready" }, GUIDE.begin, "opening"],
    [{ what: "rolled" }, GUIDE.opening, "opening"],
    [{ what: "marked" }, GUIDE.slip, "page-0"],
    [{ what: "again", how: "sentence", unread: [] }, GUIDE.leading, "page-0"],
    [{ what: "led" }, GUIDE.afterAgain, "page-0"],
    [{ what: "may-undo", may: false }, GUIDE.page, "page-0"],
    [{ what: "held" }, GUIDE.turn, "page-1"],
    [{ what: "rolled" }, GUIDE.lastPage, "page-1"],
    [{ what: "words", which: "closing" }, GUIDE.closing, "closing"],
    [{ what: "held" }, GUIDE.done, null],
  ];
  let standing = begun(FACTS);
  for (const [happening, sentence, words] of steps) {
    standing = after(standing, happening);
    assert.deepEqual(guided(standing, 2), { sentence, words });
  }
});

test("who holds after the opening words is led to the first page", () => {
  const happenings = [
    { what: "ready" },
    { what: "rolled" },
    { what: "read", readS: 9 },
    { what: "held" },
  ];
  let standing = happenings.reduce(after, begun(FACTS));
  assert.deepEqual(guided(standing, 2), { sentence: GUIDE.markFirst, words: "page-0" });
  standing = after(standing, NEXT_ARTICLE);
  assert.deepEqual(guided(standing, 2), { sentence: GUIDE.slip, words: "page-0" });
  standing = after(standing, { what: "rolled" });
  assert.deepEqual(guided(standing, 2), { sentence: GUIDE.slip, words: "page-0" });
});

test("who holds before the closing words is led to them", () => {
  const happenings = [
    { what: "ready" },
    { what: "rolled" },
    { what: "marked" },
    { what: "held" },
    { what: "rolled" },
    { what: "held" },
  ];
  let standing = happenings.reduce(after, begun(FACTS));
  assert.deepEqual(guided(standing, 2), { sentence: GUIDE.closingSoon, words: "closing" });
  standing = after(standing, { what: "next", next: "closing" });
  assert.deepEqual(guided(standing, 2), { sentence: GUIDE.closingNext, words: "closing" });
});

test("who tries it out may say anything", () => {
  const facts = { ...FACTS, hasOpening: false, hasClosing: false, tryOut: true };
  const ready = after(begun(facts), { what: "ready" });
  assert.equal(guided(ready, 0).sentence, GUIDE.tryOut);
  const rolling = after(after(ready, { what: "rolled" }), { what: "read", readS: 4 });
  assert.equal(guided(rolling, 0).sentence, GUIDE.tryOutRolling);
  assert.equal(guided(after(rolling, { what: "held" }), 0).sentence, GUIDE.tryOutHeld);
});

test("where nothing can be read nothing is guided", () => {
  assert.deepEqual(guided(begun(FACTS), 2), { sentence: "", words: null });
});

test("while a lead-in plays what is read stays before the eyes", () => {
  const again = { what: "again", how: "sentence", unread: [] };
  const opening = [{ what: "ready" }, { what: "rolled" }].reduce(after, begun(FACTS));
  assert.deepEqual(guided(after(opening, again), 2), { sentence: GUIDE.leading, words: "opening" });
  const tryOut = after(after(begun({ ...FACTS, tryOut: true }), { what: "rolled" }), again);
  assert.deepEqual(guided(tryOut, 0), { sentence: GUIDE.leading, words: null });
});
