import assert from "node:assert/strict";
import { test } from "node:test";
import { Taking } from "../../../src/quietleaf/web/static/scripts/audio/taking.js";
import { Made } from "./voice.mjs";

/** What a journal was given, in order: entries, and how many samples of sound. */
class Written {
  /** @type {any[]} */ all = [];
  entries = 0;

  addEntry(/** @type {any} */ entry) {
    this.all.push(entry);
    this.entries += 1;
  }

  addSound(/** @type {Uint8Array} */ _, /** @type {number} */ samples) {
    this.all.push({ what: "sound", samples });
  }

  flush() {}

  get agains() {
    return this.all.filter(({ what }) => what === "again");
  }
}

/** A reader of six sentences, at some rate. */
function voice(rate = 48_000) {
  const made = new Made({ rate, seed: 4 });
  made.pause(0.7);
  const places = [];
  for (let sentence = 0; sentence < 6; sentence += 1) {
    const [start] = made.speech(0.9);
    made.pause(0.2);
    const [, stop] = made.speech(0.9);
    places.push([start, stop]);
    made.pause(0.8);
  }
  return { places, rate, samples: made.samples() };
}

/** A stand that writes into `journals.at(-1)`, and hears a voice block by block. */
function stand() {
  const journals = [new Written()];
  /** @type {any[]} */
  const told = [];
  const taking = new Taking(() => /** @type {any} */ (journals.at(-1)), (message) => told.push(message));
  taking.leadInS = 3;
  taking.begin("left", "a test");
  let ms = 0;
  const hear = (/** @type {Float32Array} */ samples, rate = 48_000) => {
    for (let at = 0; at < samples.length; at += rate / 100) {
      ms += 10;
      const channels = [samples.subarray(at, at + rate / 100)];
      taking.hear({ channels, rate, stampUs: 1000 * ms }, ms, ms);
    }
  };
  const seen = () => told.filter(({ kind }) => kind === "heard").at(-1).again;
  return { taking, journals, hear, seen };
}

test("entries stand behind the sound that they speak of", () => {
  const { taking, journals, hear } = stand();
  const { places, samples } = voice();
  hear(samples.subarray(0, 480));
  taking.roll();
  hear(samples.subarray(480, places[2][0] + 48_000));
  const { leadIn, known } = taking.again(null);
  assert.equal(known, true);
  hear(samples.subarray(places[2][0] + 48_000, places[3][0]));
  taking.led();
  const [journal] = journals;
  let written = 0;
  for (const one of journal.all) {
    if (one.what === "sound") written += one.samples;
    if (one.what === "again") assert.ok(one.mark <= written && one.resume <= written);
  }
  const [pressed, led] = journal.agains;
  assert.equal(led.instead, journal.all.filter(({ what }) => what !== "sound").indexOf(pressed));
  assert.equal(pressed.mark, places[2][0] + 48_000);
  assert.ok(pressed.backSample >= places[1][1] && pressed.backSample < places[2][0]);
  const from = pressed.backSample - leadIn.samples.length;
  assert.deepEqual(leadIn.samples, samples.slice(from, pressed.backSample));
});

test("pressed while held it rolls, and what lay in memory is outside", () => {
  const { taking, journals, hear, seen } = stand();
  const { places, samples } = voice();
  hear(samples.subarray(0, 480));
  taking.roll();
  hear(samples.subarray(480, places[2][1] - 24_000));
  taking.hold();
  hear(new Float32Array(48_000));
  taking.again(null);
  hear(new Float32Array(48_000));
  const [{ what, take, mark, backTake, backSample }] = journals[0].agains;
  assert.deepEqual([what, take, mark, backTake], ["again", 2, 0, 1]);
  assert.ok(seen().leading);
  assert.ok(Math.abs(seen().secondsRead - backSample / 48_000) < 1e-6);
  assert.deepEqual(seen().outside.length, 1);
  taking.hold();
  const [pressed, led] = journals[0].agains;
  assert.deepEqual([led.instead, led.resume], [4 - 1, 72_000]);
  assert.equal(pressed.resume, 0);
  assert.equal(journals[0].all.at(-1).what, "sealed");
});

test("takes are counted in their own journal, and what another one holds is not gone back into", () => {
  const { taking, journals, hear } = stand();
  const { samples } = voice();
  hear(samples.subarray(0, 480));
  taking.roll();
  hear(samples.subarray(480, 200_000));
  taking.hold();
  journals.push(new Written());
  taking.roll();
  hear(samples.subarray(200_000, 201_000));
  taking.again(null);
  const [{ take, backTake, backSample }] = journals[1].agains;
  assert.deepEqual([take, backTake, backSample], [1, 1, 0]);
  assert.deepEqual(journals[0].agains, []);
});

test("a microphone of another rate begins a take of the same journal", () => {
  const { taking, journals, hear, seen } = stand();
  const { samples } = voice();
  hear(samples.subarray(0, 480));
  taking.roll();
  hear(samples.subarray(480, 480_000));
  const other = voice(44_100);
  hear(other.samples.subarray(0, 132_300), 44_100);
  const { leadIn } = taking.again(null);
  const [{ take, backTake }] = journals[0].agains;
  assert.deepEqual([take, backTake, leadIn.rate], [2, 2, 44_100]);
  taking.hold();
  hear(new Float32Array(44_100), 44_100);
  assert.ok(seen().secondsRead > 10);
});

test("a place that has gone from memory is gone back to with what is left of the lead-in", () => {
  const { taking, journals, hear } = stand();
  const { places, samples } = voice(8_000);
  hear(samples.subarray(0, 80), 8_000);
  taking.roll();
  hear(samples.subarray(80), 8_000);
  hear(new Float32Array(120 * 8_000), 8_000);
  const { leadIn, known } = taking.again({ take: 1, sample: places[1][0] });
  assert.equal(known, false);
  assert.equal(leadIn.samples.length, 0);
  const [{ backSample, leadIn: told }] = journals[0].agains;
  assert.ok(backSample > places[0][1] && backSample < places[1][0]);
  assert.equal(told, 0);
});
