import assert from "node:assert/strict";
import { test } from "node:test";

import {
  EARLIER_S,
  knownPace,
  mixedPace,
  paceOf,
  reckon,
  roundedWords,
  timeOf,
  wordsIn,
} from "../../../src/quietleaf/web/static/scripts/core/pacing.js";

/** 56 to 58 minutes; closing words of 50 words last 20 s at 150 a minute. */
const HOUR = {
  window: { shortestS: 3360, longestS: 3480 },
  readS: 0,
  wordsPerMin: 150,
  closingWords: 50,
  closingBegun: false,
  warningsMin: [5, 2, 1],
};

const at = (readS, more = {}) => reckon({ ...HOUR, readS, ...more });
const near = (value, wanted) => assert.ok(Math.abs(value - wanted) < 1e-9, `${value}, not ${wanted}`);

test("a request of free length has no clock", () => {
  assert.equal(at(100, { window: null }), null);
});

test("58 minutes at 150 words a minute are 8,700 words, the planning figure, less the closing words", () => {
  // practice.md, L: 8,700 words in 58 minutes at 150 (calculated).
  const { secondsLeft, wordsLeft, closingS, left } = at(0);
  assert.equal(secondsLeft, 3480);
  assert.deepEqual(left, { over: false, minutes: 58, seconds: 0 });
  assert.equal(closingS, 20);
  // 8,700 - 50 words of closing - 5 s in hand (12.5 words) = 8,637.5.
  assert.equal(wordsLeft, 8600);
  assert.equal(at(0, { closingWords: 0 }).closingS, 0);
});

test("closing words begun when it says so end inside the window", () => {
  for (const wordsPerMin of [110, 150, 200]) {
    for (const closingWords of [0, 20, 60, 250]) {
      const { beginClosingAtS, earliestClosingAtS, closingS, lookForEndAtS } = at(0, {
        wordsPerMin,
        closingWords,
      });
      near(closingS, (60 * closingWords) / wordsPerMin);
      near(beginClosingAtS + closingS, 3475);
      near(earliestClosingAtS + closingS, 3360);
      assert.ok(lookForEndAtS >= earliestClosingAtS && lookForEndAtS < beginClosingAtS);
    }
  }
});

test("in a window that is a moment, nothing is held in hand", () => {
  const window = { shortestS: 600, longestS: 600 };
  const { beginClosingAtS, earliestClosingAtS, closingS } = at(0, { window });
  near(beginClosingAtS + closingS, 600);
  near(earliestClosingAtS, beginClosingAtS);
});

test("what a reader aims at lies within the window", () => {
  assert.equal(at(0, { aimS: 3400 }).secondsLeft, 3400);
  assert.equal(at(0, { aimS: 60 }).secondsLeft, 3360);
  assert.equal(at(0, { aimS: 9999 }).secondsLeft, 3480);
  near(at(0, { aimS: 3400 }).beginClosingAtS, 3380);
  const open = { shortestS: 600, longestS: null };
  assert.equal(at(0, { window: open }).secondsLeft, 600);
});

test("one stage follows the other", () => {
  const stages = [];
  for (let readS = 0; readS <= 3600; readS += 1) {
    const { stage } = at(readS);
    if (stages.at(-1)?.[0] !== stage) stages.push([stage, readS]);
  }
  assert.deepEqual(stages, [
    ["reading", 0],
    ["look-for-end", 3395],
    ["begin-closing", 3455],
    ["over", 3481],
  ]);
  assert.equal(at(3470, { closingBegun: true }).stage, "closing");
  assert.equal(at(3470, { closingBegun: true }).wordsLeft, 0);
  assert.equal(at(3481, { closingBegun: true }).stage, "over");
});

test("time and words only go down as it is read", () => {
  let before = at(0);
  for (let readS = 1; readS <= 3600; readS += 1) {
    const now = at(readS);
    assert.equal(now.secondsLeft, before.secondsLeft - 1);
    assert.ok(now.wordsLeft <= before.wordsLeft);
    assert.ok(now.place >= before.place && now.place <= 1);
    before = now;
  }
  assert.equal(before.wordsLeft, 0);
  assert.deepEqual(before.left, { over: true, minutes: 2, seconds: 0 });
});

test("the least warning whose time has come is due", () => {
  const due = [];
  for (let readS = 0; readS <= 3600; readS += 1) {
    const { warningMin } = at(readS);
    if (due.at(-1)?.[0] !== warningMin) due.push([warningMin, readS]);
  }
  assert.deepEqual(due, [
    [null, 0],
    [5, 3180],
    [2, 3360],
    [1, 3420],
    [null, 3480],
  ]);
  assert.equal(at(3200, { warningsMin: [] }).warningMin, null);
  // Of a reading of four minutes nobody is told at its start that five are left.
  assert.equal(at(0, { window: { shortestS: 200, longestS: 240 } }).warningMin, null);
});

test("places in the column", () => {
  const { place, closingPlace, shortestPlace } = at(1740);
  near(place, 0.5);
  near(closingPlace, 3455 / 3480);
  near(shortestPlace, 3360 / 3480);
  assert.equal(at(4000).place, 1);
});

test("items are as long as those so far, by their median", () => {
  assert.equal(at(0).itemsLeft, null);
  assert.equal(at(100, { articlesS: [20] }).itemsLeft, null);
  // Three whole ones of 100, 110 and 400 s: 3,455 - 655 = 2,800 s hold 25 of 110 s.
  assert.equal(at(655, { articlesS: [20, 120, 230, 630] }).itemsLeft, 25);
  assert.equal(at(3450, { articlesS: [20, 120, 230, 630] }).itemsLeft, 0);
  // Marks that lie ahead of what stays (their words were cut) do not count.
  assert.equal(at(100, { articlesS: [20, 300] }).itemsLeft, null);
});

test("words are rounded as people say them", () => {
  assert.deepEqual(
    [0, 4, 36, 199, 226, 980, 1274, 1349, 2851, 8637].map(roundedWords),
    [0, 0, 40, 200, 250, 1000, 1300, 1300, 2900, 8600],
  );
  assert.equal(roundedWords(-5), 0);
});

test("minutes and seconds", () => {
  assert.deepEqual(timeOf(200), { over: false, minutes: 3, seconds: 20 });
  assert.deepEqual(timeOf(199.2), { over: false, minutes: 3, seconds: 20 });
  assert.deepEqual(timeOf(0), { over: false, minutes: 0, seconds: 0 });
  assert.deepEqual(timeOf(-61.9), { over: true, minutes: 1, seconds: 1 });
});

test("words of a text as they are said", () => {
  assert.equal(wordsIn(""), 0);
  assert.equal(wordsIn("This is the Marrowby Reading Service."), 6);
  assert.equal(wordsIn("You’re listening — to it: “so”."), 5);
  // Wednesday, twenty-five, November, twenty twenty-six.
  assert.equal(wordsIn("Wednesday 25 November 2026"), 5);
});

test("a pace is words over minutes, and nonsense is none", () => {
  assert.equal(paceOf(50, 20), 150);
  for (const [words, spokenS] of [
    [0, 20],
    [50, 0],
    [50, 2],
    [50, 3000],
    [NaN, 20],
    [-3, 4],
  ]) {
    assert.equal(paceOf(words, spokenS), null);
  }
});

test("what is known and what is measured are mixed by how long each was heard", () => {
  const known = knownPace(150, true);
  assert.deepEqual(mixedPace(known, 50, 2), known);
  const mixed = mixedPace(known, 45, 20);
  near(mixed.wordsPerMin, (60 * (2.5 * EARLIER_S + 45)) / (EARLIER_S + 20));
  assert.ok(mixed.wordsPerMin < 150 && mixed.wordsPerMin > 135);
  // A guess gives way sooner.
  assert.ok(mixedPace(knownPace(150, false), 45, 20).wordsPerMin < mixed.wordsPerMin);
  // Two measurements in one go or in two.
  near(mixedPace(mixedPace(known, 40, 20), 50, 20).wordsPerMin, mixedPace(known, 90, 40).wordsPerMin);
  // However long it is heard, the pace follows.
  let pace = known;
  for (let count = 0; count < 500; count += 1) pace = mixedPace(pace, 50, 30);
  near(Math.round(pace.wordsPerMin), 100);
});
