import assert from "node:assert/strict";
import { test } from "node:test";

import {
  clockOf,
  nextThing,
  pieceAt,
  sentenceBack,
  sentenceOn,
  speedBeside,
} from "../../../src/quietleaf/web/static/scripts/core/places_heard.js";

/** Three sentences; the second goes on in another line. */
const PIECES = [
  { startS: 1, fromS: 1.2, toS: 4 },
  { startS: 4, fromS: 4.2, toS: 9 },
  { startS: 9, fromS: 9, toS: 12 },
  { startS: 12.5, fromS: 12.7, toS: 15 },
];

test("what sounds is the last piece that has begun", () => {
  assert.deepEqual([0, 1, 3.9, 4.1, 10, 99].map((atS) => pieceAt(PIECES, atS)), [-1, 0, 0, 1, 2, 3]);
});

test("back is the start of this sentence, and of the one before when it has only just begun", () => {
  assert.equal(sentenceBack(PIECES, 8), 4);
  assert.equal(sentenceBack(PIECES, 4.5), 1);
  assert.equal(sentenceBack(PIECES, 0.3), 0);
});

test("on is the next start, and nothing after the last", () => {
  assert.equal(sentenceOn(PIECES, 4), 9);
  assert.equal(sentenceOn(PIECES, 13), null);
});

test("the next thing that counts, round the end, and none where there is no other", () => {
  const things = ["a", "b", "c", "d"];
  assert.equal(nextThing(things, null, 1), "a");
  assert.equal(nextThing(things, null, -1), "d");
  assert.equal(nextThing(things, "d", 1), "a");
  assert.equal(nextThing(things, "a", -1), "d");
  assert.equal(nextThing(things, "b", 1, (one) => one === "a"), "a");
  assert.equal(nextThing(things, "b", 1, (one) => one === "b"), null);
  assert.equal(nextThing([], null, 1), null);
});

test("speeds end where their list ends", () => {
  const speeds = ["0.75", "1", "2"];
  assert.deepEqual(
    ["0.75", "1", "2"].map((now) => [speedBeside(speeds, now, -1), speedBeside(speeds, now, 1)]),
    [["0.75", "1"], ["0.75", "2"], ["1", "2"]],
  );
});

test("times as people say them", () => {
  assert.deepEqual([0, 7.9, 192, 3723].map(clockOf), ["0:00", "0:07", "3:12", "1:02:03"]);
});
