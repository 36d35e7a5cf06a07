import assert from "node:assert/strict";
import { test } from "node:test";

import {
  lastCheckOf,
  packed,
  testSweep,
} from "../../../src/quietleaf/web/static/scripts/core/room.js";
import * as texts from "../../../src/quietleaf/web/static/scripts/texts/room.js";

/** @param {ArrayBuffer} body */
function opened(body) {
  const size = new DataView(body).getUint32(0, true);
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(body, 4, size)));
  return { header, samples: [...new Float32Array(body, 4 + size)] };
}

test("parts go in their order, each channel after the other", () => {
  const { header, samples } = opened(
    packed({
      rate: 48000,
      microphone: "Tischmikrofon “ö”",
      parts: {
        plosives: [Float32Array.of(7), Float32Array.of(8)],
        sentence: [Float32Array.of(1, 2), Float32Array.of(3, 4)],
        still: [Float32Array.of(5), Float32Array.of(6)],
      },
    }),
  );
  assert.deepEqual(samples, [1, 2, 3, 4, 5, 6, 7, 8]);
  assert.deepEqual(header, {
    rate: 48000,
    channels: 2,
    microphone: "Tischmikrofon “ö”",
    parts: { sentence: 2, still: 1, plosives: 1, played: 0 },
  });
});

test("of two channels that are the same one goes", () => {
  const both = () => [Float32Array.of(0.25, -0.5), Float32Array.of(0.25, -0.5)];
  const same = packed({ rate: 44100, microphone: "", parts: { sentence: both(), still: both() } });
  assert.deepEqual(opened(same).samples, [0.25, -0.5, 0.25, -0.5]);
  assert.equal(opened(same).header.channels, 1);
  const differs = { sentence: both(), still: [Float32Array.of(0), Float32Array.of(1e-7)] };
  const { header } = opened(packed({ rate: 44100, microphone: "", parts: differs }));
  assert.equal(header.channels, 2);
});

test("the last check is read, and what is none is nothing", () => {
  const kept = { at: "2026-11-18T10:00:00.000Z", sentence: "All is well.", microphone: "Desk" };
  assert.deepEqual(lastCheckOf(JSON.stringify({ ...kept, more: 1 })), kept);
  for (const text of [null, "", "{", "null", "7", '{"at":"never","sentence":"","microphone":""}']) {
    assert.equal(lastCheckOf(text), null);
  }
});

test("the sweep is quiet, begins and ends in silence", () => {
  const sweep = testSweep(48000);
  assert.equal(sweep.length, 72000);
  assert.ok(Math.max(...sweep) <= 0.1001);
  assert.equal(sweep[0], 0);
  assert.ok(Math.abs(sweep[71999]) < 1e-3);
});

test("every trouble has a sentence with a way out", () => {
  assert.equal(Object.keys(texts.TROUBLES).length, 9);
  for (const sentence of Object.values(texts.TROUBLES)) {
    assert.match(sentence, /\.$/);
    assert.match(sentence, /Open|press|Press|Plug|Close|close|Switch|Look/);
    assert.doesNotMatch(sentence, /error|invalid|buffer|session/i);
  }
  assert.equal(texts.secondsLeft(5), "Five seconds more.");
  assert.equal(texts.secondsLeft(1), "One second more.");
});
