import assert from "node:assert/strict";
import { test } from "node:test";
import {
  channelOf,
  isDecided,
  sideOf,
  sidesStep,
  startSides,
} from "../../../src/quietleaf/web/static/scripts/core/channels.js";

const tone = (/** @type {number} */ level) => Float32Array.from({ length: 441 }, (_, n) => level * Math.sin(n));

/** @param {Float32Array[]} channels */
function side(channels) {
  return sideOf(sidesStep(startSides(), channels));
}

test("the louder side has the microphone; in doubt it is the left one", () => {
  assert.equal(side([tone(0.2), tone(0)]), "left");
  assert.equal(side([tone(0), tone(0.2)]), "right");
  assert.equal(side([tone(0.001), tone(0.2)]), "right"); // what leaks into the other input
  assert.equal(side([tone(0.2), tone(0.2)]), "left");
  assert.equal(side([tone(0.2), tone(0.4)]), "left"); // 6 dB: two microphones, one nearer
  assert.equal(side([tone(0), tone(0)]), "left");
  assert.equal(side([tone(0.2)]), "left");
  assert.equal(side([]), "left");
  assert.equal(side([tone(0.1), Float32Array.of(NaN, Infinity)]), "left");
});

test("a side is taken as it is, never a mix", () => {
  const [left, right] = [tone(0.1), tone(0.2)];
  assert.equal(channelOf([left, right], "right"), right);
  assert.equal(channelOf([left, right], "left"), left);
  assert.equal(channelOf([left], "right"), left);
  assert.equal(channelOf([], "left").length, 0);
});

test("it is decided after two seconds", () => {
  const state = startSides();
  for (let block = 0; block < 199; block += 1) sidesStep(state, [tone(0.1), tone(0)]);
  assert.ok(!isDecided(state, 44_100));
  assert.ok(isDecided(sidesStep(state, [tone(0.1), tone(0)]), 44_100));
});
