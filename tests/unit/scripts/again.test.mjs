import assert from "node:assert/strict";
import { test } from "node:test";
import {
  againHeard,
  againLed,
  againStart,
  againWritten,
  canUndo,
  dropAll,
  outsideOf,
  pressAgain,
  programmeBetween,
  programmeSamples,
  startAgain,
  undoAgain,
} from "../../../src/quietleaf/web/static/scripts/core/again.js";

const RATE = 1000;
const at = (/** @type {number} */ take, /** @type {number} */ sample) => ({ take, sample });
const start = (/** @type {number} */ take, /** @type {number} */ sample, likelihood = 1) => ({
  from: at(take, Math.max(0, sample - 200)),
  place: at(take, sample),
  onset: at(take, sample + 100),
  likelihood,
});

/** A take of so many samples with sentences that begin at these places. */
function read(/** @type {number} */ samples, /** @type {number[]} */ places, state = startAgain(RATE, 3), take = 1) {
  againHeard(state, take, samples);
  for (const place of places) againStart(state, start(take, place));
  return state;
}

/** Press, and let the journal have the entry under an index. */
function press(/** @type {any} */ state, /** @type {any} */ now, /** @type {number} */ index, picked = null) {
  const pressed = pressAgain(state, now, { picked });
  againWritten(state, index);
  return pressed;
}

test("the sentence that the slip is in is read from its start", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  const { entry, leadIn, further } = press(state, at(1, 9_000), 7);
  assert.deepEqual(entry, {
    what: "again",
    take: 1,
    mark: 9_000,
    backTake: 1,
    backSample: 8_000,
    resume: 9_000,
    leadIn: 3_000,
    instead: null,
  });
  assert.deepEqual(leadIn, [{ from: at(1, 5_000), to: at(1, 8_000) }]);
  assert.equal(further, false);
});

test("a sentence that has only just begun is not the one that is meant", () => {
  const state = read(8_500, [0, 4_000, 8_000]);
  assert.equal(pressAgain(state, at(1, 8_500)).entry.backSample, 4_000);
});

test("in the silence after a sentence that sentence is meant", () => {
  const state = read(12_000, [0, 4_000, 8_000]);
  assert.equal(pressAgain(state, at(1, 12_000)).entry.backSample, 8_000);
});

test("places that are hardly sentence starts are passed over", () => {
  const state = read(9_000, [0, 4_000]);
  againStart(state, start(1, 7_000, 0.1));
  assert.equal(pressAgain(state, at(1, 9_000)).entry.backSample, 4_000);
});

test("in the first seconds the very beginning is gone back to, with nothing before it", () => {
  const state = read(300, []);
  const { entry, leadIn } = press(state, at(1, 300), 1);
  assert.equal(entry.backSample, 0);
  assert.equal(entry.leadIn, 0);
  assert.deepEqual(leadIn, []);
});

test("pressed while the lead-in plays, it is one sentence further back", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 9_800);
  const { entry, leadIn, further } = press(state, at(1, 9_800), 8);
  assert.deepEqual([entry.mark, entry.backSample, entry.resume, entry.instead], [9_000, 4_000, 9_800, 7]);
  assert.deepEqual(leadIn, [{ from: at(1, 1_000), to: at(1, 4_000) }]);
  assert.equal(further, true);
  againHeard(state, 1, 10_500);
  assert.equal(press(state, at(1, 10_500), 9).entry.backSample, 0);
  againHeard(state, 1, 11_000);
  assert.equal(press(state, at(1, 11_000), 10).entry.backSample, 0);
});

test("when the lead-in has ended the programme goes on, and only then", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 12_100);
  const led = againLed(state, at(1, 12_100));
  assert.deepEqual([led?.mark, led?.backSample, led?.resume, led?.instead], [9_000, 8_000, 12_100, 7]);
  assert.equal(againLed(state, at(1, 12_200)), null);
  assert.deepEqual(outsideOf(state), [{ from: at(1, 8_000), to: at(1, 12_100) }]);
  againHeard(state, 1, 15_100);
  assert.equal(programmeSamples(state), 8_000 + 3_000);
});

test("three times in the same place, the lead-in is what comes before the sentence each time", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  let now = 9_000;
  for (let time = 0; time < 3; time += 1) {
    const { entry, leadIn } = press(state, at(1, now), 2 * time);
    assert.equal(entry.instead, null);
    assert.deepEqual([entry.backSample, leadIn.at(-1)?.to], [8_000, at(1, 8_000)]);
    assert.equal(leadIn.reduce((sum, { from, to }) => sum + to.sample - from.sample, 0), 3_000);
    now += 3_100;
    againHeard(state, 1, now);
    againLed(state, at(1, now));
    againWritten(state, 2 * time + 1);
    againStart(state, start(1, now + 50));
    now += 2_000;
    againHeard(state, 1, now);
  }
  assert.equal(programmeSamples(state), 8_000 + 2_000);
});

test("who began before the lead-in had ended goes back to the sentence after it", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againStart(state, start(1, 11_500));
  againStart(state, start(1, 15_000));
  againHeard(state, 1, 16_500);
  assert.equal(press(state, at(1, 16_500), 3).entry.backSample, 15_000);
});

test("over a hold the take before is gone back into", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  read(400, [], state, 2);
  const { entry, leadIn } = press(state, at(2, 400), 9);
  assert.deepEqual([entry.take, entry.mark, entry.backTake, entry.backSample], [2, 400, 1, 8_000]);
  assert.deepEqual(leadIn, [{ from: at(1, 5_000), to: at(1, 8_000) }]);
});

test("a lead-in reaches over an earlier join, and over a hold", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againHeard(state, 1, 13_000);
  read(4_000, [1_000], state, 2);
  const { leadIn } = press(state, at(2, 4_000), 3);
  assert.deepEqual(leadIn, [
    { from: at(1, 7_000), to: at(1, 8_000) },
    { from: at(1, 12_000), to: at(1, 13_000) },
    { from: at(2, 0), to: at(2, 1_000) },
  ]);
});

test("a picked place is gone back to, likely or not", () => {
  const state = read(20_000, [0, 4_000]);
  againStart(state, start(1, 9_000, 0.1));
  againStart(state, start(1, 15_000));
  assert.equal(press(state, at(1, 20_000), 1, at(1, 9_700)).entry.backSample, 9_000);
});

test("while a lead-in plays, a picked place takes the place of the press", () => {
  const state = read(20_000, [0, 4_000, 15_000]);
  press(state, at(1, 20_000), 5);
  againHeard(state, 1, 20_500);
  const { entry, further } = press(state, at(1, 20_500), 6, at(1, 4_100));
  assert.deepEqual([entry.mark, entry.backSample, entry.instead, further], [20_000, 4_000, 5, false]);
});

test("taken back during the lead-in, the old sentence stands and reading goes on from there", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 10_000);
  const entry = undoAgain(state, at(1, 10_000));
  assert.deepEqual(entry, {
    what: "again",
    take: 1,
    mark: 10_000,
    backTake: 1,
    backSample: 9_000,
    resume: 10_000,
    leadIn: 0,
    instead: 7,
  });
  againHeard(state, 1, 11_000);
  assert.equal(againLed(state, at(1, 11_000)), null);
  assert.deepEqual(programmeBetween(state, at(1, 7_000), at(1, 11_000)), [
    { from: at(1, 7_000), to: at(1, 9_000) },
    { from: at(1, 10_000), to: at(1, 11_000) },
  ]);
  assert.equal(canUndo(state, at(1, 11_000)), false);
});

test("it can be taken back after reading it again, but not minutes later", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 8);
  againHeard(state, 1, 42_000);
  assert.equal(canUndo(state, at(1, 42_000)), true);
  againHeard(state, 1, 42_001);
  assert.equal(canUndo(state, at(1, 42_001)), false);
  assert.equal(undoAgain(state, at(1, 42_001)), null);
});

test("taking back the last of two leaves the first", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againStart(state, start(1, 12_050));
  againHeard(state, 1, 14_000);
  press(state, at(1, 14_000), 3);
  againHeard(state, 1, 14_500);
  assert.equal(undoAgain(state, at(1, 14_500))?.instead, 3);
  assert.deepEqual(programmeBetween(state, at(1, 0), at(1, 14_500)), [
    { from: at(1, 0), to: at(1, 8_000) },
    { from: at(1, 12_000), to: at(1, 14_000) },
  ]);
});

test("nothing can be taken back where nothing was pressed", () => {
  const state = read(9_000, [0]);
  assert.equal(canUndo(state, at(1, 9_000)), false);
  assert.equal(undoAgain(state, at(1, 9_000)), null);
});

test("places before the first take that is known are not gone back to", () => {
  const state = startAgain(RATE, 3);
  againHeard(state, 5, 200);
  assert.deepEqual(pressAgain(state, at(5, 200)).entry.backTake, 5);
});

test("while a lead-in plays the programme stands still", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 10_500);
  assert.equal(programmeSamples(state), 8_000);
  assert.deepEqual(outsideOf(state), [{ from: at(1, 8_000), to: at(1, 10_500) }]);
});

test("held while the lead-in plays, the take ends and the sentence is read in the next one", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 7);
  againHeard(state, 1, 9_700);
  assert.equal(againLed(state, at(1, 9_700))?.resume, 9_700);
  againWritten(state, 8);
  againHeard(state, 2, 2_000);
  againStart(state, { from: at(2, 0), place: at(2, 400), onset: at(2, 500), likelihood: 1 });
  const { entry, leadIn } = press(state, at(2, 2_000), 9);
  assert.deepEqual([entry.take, entry.backTake, entry.backSample, entry.instead], [2, 1, 8_000, null]);
  assert.deepEqual(leadIn, [{ from: at(1, 5_000), to: at(1, 8_000) }]);
});

test("pressed while held, all of the new take until the lead-in ends is outside", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  againHeard(state, 2, 500); // what lay in memory before the press
  const { entry } = press(state, at(2, 0), 3);
  assert.deepEqual([entry.take, entry.mark, entry.resume, entry.backSample], [2, 0, 0, 8_000]);
  againHeard(state, 2, 3_500);
  assert.equal(undoAgain(state, at(2, 3_500))?.backSample, 0);
  againWritten(state, 4);
  againHeard(state, 2, 4_000);
  assert.deepEqual(programmeBetween(state, at(1, 8_000), at(2, 4_000)), [
    { from: at(1, 8_000), to: at(1, 9_000) },
    { from: at(2, 3_500), to: at(2, 4_000) },
  ]);
});

test("words that came through from the headphones at the end of the lead-in make no second join", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againStart(state, { from: at(1, 12_300), place: at(1, 12_600), onset: at(1, 12_700), likelihood: 1 });
  againHeard(state, 1, 15_000);
  assert.equal(press(state, at(1, 15_000), 3).entry.backSample, 8_000);
});

test("a sentence of its own after the lead-in is gone back to alone", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againStart(state, { from: at(1, 12_500), place: at(1, 12_900), onset: at(1, 13_000), likelihood: 1 });
  againHeard(state, 1, 15_000);
  assert.equal(press(state, at(1, 15_000), 3).entry.backSample, 12_900);
});

test("after it was taken back, reading on in the middle of a sentence begins none", () => {
  const state = read(9_500, [0, 4_000, 8_000]);
  press(state, at(1, 9_500), 1);
  againHeard(state, 1, 10_000);
  undoAgain(state, at(1, 10_000));
  againWritten(state, 2);
  againStart(state, { from: at(1, 9_500), place: at(1, 10_400), onset: at(1, 10_500), likelihood: 1 });
  againHeard(state, 1, 13_000);
  assert.equal(press(state, at(1, 13_000), 3).entry.backSample, 8_000);
});

test("a picked place belongs to the words that begin there, however they were found", () => {
  for (const [picked, back] of [
    [8_150, 8_000],
    [7_850, 8_000],
    [7_700, 4_000],
    [4_300, 4_000],
  ]) {
    const state = read(20_000, [0, 4_000, 8_000]);
    assert.equal(press(state, at(1, 20_000), 1, at(1, picked)).entry.backSample, back, `${picked}`);
  }
});

test("a picked place that has left the programme is that where it left off", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  press(state, at(1, 9_000), 1);
  againHeard(state, 1, 12_000);
  againLed(state, at(1, 12_000));
  againWritten(state, 2);
  againHeard(state, 1, 15_000);
  assert.equal(press(state, at(1, 15_000), 3, at(1, 8_700)).entry.backSample, 8_000);
});

test("a place older than the sound in memory is gone back to all the same", () => {
  const state = read(9_000, [0, 4_000, 8_000]);
  const soundFrom = at(1, 6_000);
  const near = pressAgain(state, at(1, 9_000), { soundFrom });
  assert.deepEqual(near.leadIn, [{ from: at(1, 6_000), to: at(1, 8_000) }]);
  assert.deepEqual([near.entry.leadIn, near.known], [2_000, false]);
  const far = pressAgain(state, at(1, 9_000), { picked: at(1, 4_100), soundFrom });
  assert.deepEqual([far.entry.backSample, far.entry.leadIn, far.leadIn, far.known], [4_000, 0, [], false]);
  assert.equal(againLed(state, at(1, 9_500))?.leadIn, 0);
});

test("a lead-in that is short since nothing is before it is wholly known", () => {
  const state = read(3_000, [1_000]);
  const { leadIn, known } = press(state, at(1, 3_000), 1);
  assert.deepEqual(leadIn, [{ from: at(1, 0), to: at(1, 1_000) }]);
  assert.equal(known, true);
});

test("from the very beginning no press leads forward", () => {
  const state = read(200, []);
  assert.equal(press(state, at(1, 200), 1).entry.backSample, 0);
  againHeard(state, 1, 900);
  againStart(state, { from: at(1, 0), place: at(1, 500), onset: at(1, 600), likelihood: 1 });
  assert.equal(press(state, at(1, 900), 2).entry.backSample, 0);
});

test("where no start is likely the likeliest of the last seconds is taken, not the beginning", () => {
  const state = read(60_000, [0]);
  againStart(state, start(1, 35_000, 0.45));
  againStart(state, start(1, 45_000, 0.3));
  againStart(state, start(1, 50_000, 0.42));
  againStart(state, start(1, 54_000, 0.1));
  assert.equal(press(state, at(1, 60_000), 1).entry.backSample, 50_000);
  assert.equal(press(state, at(1, 60_100), 2).entry.backSample, 35_000);
});

test("a likely start is taken though less likely ones are nearer", () => {
  const state = read(60_000, [0, 45_000]);
  againStart(state, start(1, 50_000, 0.42));
  assert.equal(press(state, at(1, 60_000), 1).entry.backSample, 45_000);
});

test("further back it is a surer start, if there is one near; else the nearest likely one", () => {
  const state = read(60_000, [0]);
  againStart(state, start(1, 20_000, 0.8));
  for (const [place, likelihood] of [[38_000, 0.95], [44_000, 0.7], [50_000, 0.7]]) {
    againStart(state, start(1, place, likelihood));
  }
  assert.equal(press(state, at(1, 60_000), 1).entry.backSample, 50_000);
  assert.equal(press(state, at(1, 60_100), 2).entry.backSample, 38_000);
  const even = read(60_000, [0]);
  for (const place of [32_000, 38_000, 44_000, 50_000]) againStart(even, start(1, place, 0.7));
  press(even, at(1, 60_000), 1);
  assert.equal(press(even, at(1, 60_100), 2).entry.backSample, 44_000);
});

test("what comes before all that was recorded is played from elsewhere, as far as it is known", () => {
  const state = startAgain(RATE, 3, 2.5);
  againHeard(state, 1, 400);
  const first = press(state, at(1, 400), 0);
  assert.deepEqual([first.before, first.entry.leadIn, first.leadIn], [2_500, 2_500, []]);
  assert.deepEqual([first.entry.backSample, first.known], [0, true]);
  // Pressed again there is no sentence further back: it is the same once more.
  const again = press(state, at(1, 900), 1);
  assert.deepEqual([again.further, again.before, again.entry.instead], [false, 2_500, 0]);
  againLed(state, at(1, 3_500));
  againHeard(state, 1, 12_000);
  againStart(state, start(1, 4_500));
  // A sentence that begins 1 s after where it went on has 1 s of its own before it, 2 s of before.
  const later = press(state, at(1, 9_000), 3);
  assert.deepEqual([later.before, later.entry.leadIn], [2_000, 3_000]);
});

test("what breaks off is wholly outside, from its very beginning, also while a lead-in plays", () => {
  const state = read(9_000, [0, 4_000]);
  const entry = dropAll(state, at(1, 9_000));
  assert.deepEqual([entry.backSample, entry.mark, entry.resume, entry.instead], [0, 9_000, 9_000, null]);
  assert.equal(programmeSamples(state), 0);
  const leading = read(9_000, [0, 4_000]);
  press(leading, at(1, 9_000), 7);
  assert.equal(dropAll(leading, at(1, 9_500)).instead, 7);
  assert.equal(againLed(leading, at(1, 9_600)), null);
});
