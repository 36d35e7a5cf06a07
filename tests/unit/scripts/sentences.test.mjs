import assert from "node:assert/strict";
import { test } from "node:test";
import {
  breakOff,
  goOn,
  sentencesStep,
  startSentences,
} from "../../../src/quietleaf/web/static/scripts/core/sentences.js";
import { LIKELY } from "../../../src/quietleaf/web/static/scripts/core/sentence_model.js";
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

test("a pause with a lead-in in it begins a sentence, and teaches nothing of the reader", () => {
  const voice = new Made({ seed: 4 });
  const state = startSentences(voice.rate);
  /** @type {number[]} */
  const found = [];
  const hear = () => {
    const all = voice.samples();
    for (const { likelihood } of sentencesStep(state, all.subarray(heard))) found.push(likelihood);
    heard = all.length;
  };
  let heard = 0;
  voice.pause(0.7);
  for (let time = 0; time < 6; time += 1) {
    voice.speech(2);
    voice.pause(0.75);
    voice.speech(2);
    voice.pause(0.4);
    hear();
    breakOff(state);
    voice.pause(5);
    hear();
    goOn(state);
  }
  assert.equal(found.length, 12);
  assert.deepEqual(found.filter((_, index) => index % 2 === 0), [1, 1, 1, 1, 1, 1]);
  assert.ok(Math.min(...found) >= LIKELY);
});

test("who speaks on through a press begins nothing", () => {
  const voice = new Made({ seed: 4 });
  voice.pause(0.7);
  voice.speech(3);
  voice.pause(0.2);
  voice.speech(1);
  const samples = voice.samples();
  const state = startSentences(voice.rate);
  assert.equal(sentencesStep(state, samples.subarray(0, 3 * voice.rate)).length, 1);
  breakOff(state);
  goOn(state);
  const [next] = sentencesStep(state, samples.subarray(3 * voice.rate));
  assert.ok(next !== undefined && next.likelihood < LIKELY);
});
