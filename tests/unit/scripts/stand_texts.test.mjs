import assert from "node:assert/strict";
import { test } from "node:test";

import { timeOf } from "../../../src/quietleaf/web/static/scripts/core/pacing.js";
import * as texts from "../../../src/quietleaf/web/static/scripts/texts/stand.js";

test("time left is written as it is said", () => {
  const left = (timeS) => texts.timeLeft(timeOf(timeS));
  assert.equal(left(200), "3 minutes 20 left");
  assert.equal(left(61), "1 minute 1 left");
  assert.equal(left(60), "1 minute left");
  assert.equal(left(41), "41 seconds left");
  assert.equal(left(1), "1 second left");
  assert.equal(left(-75), "1 minute 15 too long");
});

test("a warning is a sentence", () => {
  assert.deepEqual([5, 2, 1].map(texts.warning), [
    "Five minutes left.",
    "Two minutes left.",
    "One minute left.",
  ]);
});

test("what is left is said in print", () => {
  assert.equal(texts.inPrint(8700, null, false), "about 8,700 words at a usual pace");
  assert.equal(texts.inPrint(2900, 6, true), "about 2,900 words at your pace, or six articles");
  assert.equal(texts.inPrint(60, 0, true), "about 60 words at your pace");
  assert.equal(texts.inPrint(0, null, true), "");
});

test("lengths are said in seconds, then in minutes", () => {
  assert.equal(texts.duration(0.2), "no seconds");
  assert.equal(texts.duration(1.4), "one second");
  assert.equal(texts.duration(89), "89 seconds");
  assert.equal(texts.duration(130), "two minutes");
  assert.equal(texts.duration(2400), "forty minutes");
});

test("how full the slot is is told by the minute, and nothing read is nothing", () => {
  const told = (readS) => texts.COLUMN.read(readS, 3480);
  assert.equal(told(0), "Nothing read, of at most 58 minutes.");
  assert.equal(told(38), "Less than a minute read, of at most 58 minutes.");
  assert.equal(told(119), "One minute read, of at most 58 minutes.");
  assert.equal(told(1500), "25 minutes read, of at most 58 minutes.");
});

test("no word of the workshop stands on the page", () => {
  const all = JSON.stringify(texts, (_, value) =>
    typeof value === "function" && value.length < 3 ? value(3, "word") : value,
  );
  assert.doesNotMatch(all, /\b(error|invalid|buffer|session)\b/i);
});
