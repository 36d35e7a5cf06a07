import assert from "node:assert/strict";
import { test } from "node:test";
import {
  sentencesStep,
  startSentences,
} from "../../../src/quietleaf/web/static/scripts/core/sentences.js";

const RATE = 1000;
const run = (/** @type {number} */ take, /** @type {number} */ startSample, /** @type {number | null} */ stopSample) => ({
  startS: 0,
  stopS: null,
  take,
  startSample,
  stopSample,
});

test("each run of speech begins a sentence once, the likelier the longer the pause", () => {
  const state = startSentences();
  const first = sentencesStep(state, [run(1, 300, null)], RATE);
  assert.deepEqual(first, [
    {
      from: { take: 1, sample: 0 },
      place: { take: 1, sample: 180 },
      onset: { take: 1, sample: 300 },
      likelihood: 1,
    },
  ]);
  assert.deepEqual(sentencesStep(state, [run(1, 300, 2_000)], RATE), []);
  const more = sentencesStep(state, [run(1, 300, 2_000), run(1, 2_500, 4_000), run(1, 5_400, null)], RATE);
  assert.deepEqual(more.map(({ place }) => place.sample), [2_380, 5_280]);
  const [short, long] = more.map(({ likelihood }) => likelihood);
  assert.ok(short !== undefined && long !== undefined && short < long);
  assert.equal(short, 0.5);
});

test("the first words after a hold begin one", () => {
  const state = startSentences();
  sentencesStep(state, [run(1, 300, 2_000)], RATE);
  const [start] = sentencesStep(state, [run(1, 300, 2_000), run(2, 60, null)], RATE);
  assert.deepEqual(start?.place, { take: 2, sample: 30 });
  assert.equal(start?.likelihood, 1);
});
