import assert from "node:assert/strict";
import { test } from "node:test";
import {
  sentencesStep,
  startSentences,
} from "../../../src/quietleaf/web/static/scripts/core/sentences.js";
import { Made } from "./voice.mjs";

/** Sentences with pauses between them, and where each begins and ends. */
function made() {
  const voice = new Made({ seed: 4 });
  voice.pause(1);
  const places = [];
  for (const pauseS of [0.9, 0.05, 0.7, 0.4, 1.2]) {
    places.push(voice.speech(1.8));
    voice.pause(pauseS);
  }
  return { places, rate: voice.rate, samples: voice.samples() };
}

/** What is found when the sound comes in blocks of so many samples. */
function found(/** @type {Float32Array} */ samples, /** @type {number} */ rate, /** @type {number} */ block) {
  const state = startSentences(rate);
  const starts = [];
  for (let at = 0; at < samples.length; at += block) {
    for (const start of sentencesStep(state, samples.subarray(at, at + block))) {
      starts.push({ ...start, knownAt: Math.min(at + block, samples.length) });
    }
  }
  return starts;
}

test("each place lies in the silence before its words, and is known soon after they begin", () => {
  const { places, rate, samples } = made();
  const starts = found(samples, rate, 480).filter(({ likelihood }) => likelihood > 0.2);
  assert.equal(starts[0]?.likelihood, 1);
  for (const { place, pauseStop, knownAt } of starts) {
    const [begin] = places.reduce((a, b) => (Math.abs(b[0] - pauseStop) < Math.abs(a[0] - pauseStop) ? b : a));
    assert.ok(Math.abs(pauseStop - begin) < 0.05 * rate, `${pauseStop} for ${begin}`);
    assert.ok(place <= begin - 0.05 * rate);
    assert.ok(places.every(([start, stop]) => place < start || place >= stop));
    assert.ok(knownAt - begin <= 0.3 * rate);
  }
});

test("it is the same however the sound is cut", () => {
  const { rate, samples } = made();
  const plain = (/** @type {number} */ block) =>
    found(samples, rate, block).map(({ knownAt, ...start }) => start);
  const whole = plain(samples.length);
  assert.ok(whole.length >= 4);
  for (const block of [1, 128, 441, 4_801]) assert.deepEqual(plain(block), whole);
});

test("silence and a room alone begin nothing", () => {
  assert.deepEqual(found(new Float32Array(96_000), 48_000, 480), []);
  const room = new Made({ seed: 2 });
  room.pause(4);
  assert.deepEqual(found(room.samples(), 48_000, 480), []);
});
