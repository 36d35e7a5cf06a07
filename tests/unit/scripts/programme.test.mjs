import assert from "node:assert/strict";
import { test } from "node:test";

import {
  Programme,
  articlesIn,
  isLeftOut,
  outsideAfter,
} from "../../../src/quietleaf/web/static/scripts/core/programme.js";

const gone = (startS, stopS) => ({ startS, stopS });

test("what left the programme stays left out when the recorder tells of it no more", () => {
  const known = [gone(5, 9), gone(40, 48)];
  assert.deepEqual(outsideAfter(known, [gone(38, 52)], 60), [gone(5, 9), gone(38, 52)]);
  // One that was taken back is told no more while it could be told.
  assert.deepEqual(outsideAfter(known, [], 60), [gone(5, 9)]);
});

test("articles begin where they do in the programme", () => {
  assert.deepEqual(articlesIn([10, 100], []), [10, 100]);
  assert.deepEqual(articlesIn([10, 100], [gone(40, 60)]), [10, 80]);
});

test("a mark goes with its sentence to where that is read again", () => {
  assert.deepEqual(articlesIn([10, 50], [gone(40, 60)]), [10, 40]);
});

test("an article that was marked anew on reading it again counts once", () => {
  assert.deepEqual(articlesIn([10, 50, 63], [gone(40, 60)]), [10, 43]);
});

test("stretches that overlap are taken out once", () => {
  assert.deepEqual(articlesIn([100], [gone(40, 60), gone(40, 55), gone(50, 70)]), [70]);
});

test("a stretch is left out when most of it is", () => {
  assert.ok(isLeftOut(gone(10, 14), [gone(11, 20)]));
  assert.ok(!isLeftOut(gone(10, 14), [gone(13, 20)]));
  assert.ok(isLeftOut(gone(10, 14), [gone(10, 12), gone(11, 13)]));
  assert.ok(!isLeftOut(gone(10, 14), []));
});

test("the edges of takes are taken off once, also where a sentence was taken again over them", () => {
  const programme = new Programme();
  programme.trim([gone(0, 0.8), gone(58, 60)]);
  assert.ok(Math.abs(programme.trimmedS - 2.8) < 1e-9);
  programme.hear([gone(50, 64)], 65);
  assert.ok(Math.abs(programme.trimmedS - 0.8) < 1e-9);
});

test("what was marked after the place that is gone back to is known by what was spoken between", () => {
  const programme = new Programme();
  const runs = [
    { startS: 40, stopS: 44 },
    { startS: 46, stopS: null },
  ];
  programme.markArticle(45);
  programme.markWords("closing", 45.5);
  assert.ok(programme.hasArticleAfter(39.5, runs));
  assert.deepEqual(programme.wordsAfter(39.5, runs), ["closing"]);
  // In the same pause, or before it: they stay where they are.
  assert.ok(!programme.hasArticleAfter(44.6, runs));
  assert.deepEqual(programme.wordsAfter(46.1, runs), []);
});
