import assert from "node:assert/strict";
import { test } from "node:test";
import {
  addRecent,
  emptyRecent,
  joinedSoftly,
  newestOf,
  oldestOf,
  recentPart,
  startRecent,
} from "../../../src/quietleaf/web/static/scripts/core/recent.js";

const count = (/** @type {number} */ from, /** @type {number} */ length) =>
  Float32Array.from({ length }, (_, index) => from + index);

test("the newest samples come in one piece, however they were cut", () => {
  const recent = startRecent(10);
  for (const [first, length] of [[0, 4], [4, 7], [11, 1], [12, 3]]) {
    addRecent(recent, { take: 0, first, samples: count(first, length) });
  }
  assert.deepEqual([...newestOf(recent)], [...count(5, 10)]);
  emptyRecent(recent);
  assert.equal(newestOf(recent).length, 0);
});

test("it grows no further", () => {
  const recent = startRecent(100);
  for (let first = 0; first < 5_000; first += 7) {
    addRecent(recent, { take: 1, first, samples: count(first, 7) });
    assert.ok(recent.count < 107);
  }
});

test("a part of a take is what is still there of it", () => {
  const recent = startRecent(20);
  addRecent(recent, { take: 1, first: 0, samples: count(0, 10) });
  addRecent(recent, { take: 1, first: 10, samples: count(10, 5) });
  addRecent(recent, { take: 2, first: 0, samples: count(100, 8) });
  assert.deepEqual([...recentPart(recent, { takeIndex: 1, start: 8, stop: 12 })], [8, 9, 10, 11]);
  assert.deepEqual([...recentPart(recent, { takeIndex: 2, start: 6, stop: 99 })], [106, 107]);
  assert.deepEqual([...recentPart(recent, { takeIndex: 3, start: 0, stop: 9 })], []);
});

test("what is older than the oldest sound is not there", () => {
  const recent = startRecent(10);
  assert.equal(oldestOf(recent), null);
  for (const first of [0, 7, 14]) addRecent(recent, { take: 2, first, samples: count(first, 7) });
  assert.deepEqual(oldestOf(recent), { take: 2, sample: 7 });
});

test("pieces meet in silence, and their ends stay as they are", () => {
  const ones = (/** @type {number} */ length) => new Float32Array(length).fill(1);
  const soft = joinedSoftly([ones(6), ones(3), ones(6)], 2);
  assert.deepEqual([...soft], [1, 1, 1, 1, 0.75, 0.25, 0.25, 0.5625, 0.25, 0.25, 0.75, 1, 1, 1, 1]);
  assert.deepEqual([...joinedSoftly([ones(4)], 2)], [1, 1, 1, 1]);
});
