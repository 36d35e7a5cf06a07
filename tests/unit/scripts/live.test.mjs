import assert from "node:assert/strict";
import { test } from "node:test";

import {
  liveRolls,
  liveSnapshot,
  liveStep,
  startLive,
} from "../../../src/quietleaf/web/static/scripts/core/live.js";
import { Made, drawn } from "./voice.mjs";

const near = (value, wanted, within, what = "") =>
  assert.ok(Math.abs(value - wanted) <= within, `${what} ${value}, wanted ${wanted}`);

/** Hear all of it in blocks; `rolls` are the places where rolling turns round. */
function heard(samples, { rate = 48000, block = 441, rolls = [0] } = {}) {
  const state = startLive(rate);
  let place = 0;
  let rolling = false;
  const turns = [...rolls];
  while (place < samples.length) {
    if (turns[0] === place) {
      rolling = !rolling;
      turns.shift();
    }
    const length = typeof block === "function" ? block() : block;
    const stop = Math.min(place + length, turns[0] ?? Infinity, samples.length);
    liveStep(state, samples.subarray(place, stop), rolling);
    place = stop;
  }
  return state;
}

function sentences({ rate = 48000, seed = 1, roomDbov = -65, voiceDbov = -26 } = {}) {
  const made = new Made({ rate, seed, roomDbov });
  const draw = drawn(seed + 50);
  made.pause(1.5);
  const said = [];
  for (let count = 0; count < 6; count += 1) {
    said.push(made.speech(1 + 1.6 * draw(), voiceDbov));
    made.pause(0.5 + draw());
  }
  return { samples: made.samples(), said };
}

test("however it is cut, the answers are the same", () => {
  const { samples } = sentences();
  const rolls = [24_011, 200_003, 260_000];
  const wanted = liveSnapshot(heard(samples, { block: samples.length, rolls }));
  assert.ok(wanted.runs.length >= 4);
  const draw = drawn(9);
  const uneven = () => 1 + Math.floor(3000 * draw());
  for (const block of [1, 128, 441, 2048, uneven]) {
    assert.deepEqual(liveSnapshot(heard(samples, { block, rolls })), wanted);
  }
});

test("an empty block changes nothing", () => {
  const { samples } = sentences();
  const state = heard(samples);
  const before = liveSnapshot(state);
  assert.equal(liveStep(state, new Float32Array(0), true), state);
  assert.deepEqual(liveSnapshot(state), before);
});

for (const rate of [16_000, 22_050, 44_100, 48_000, 96_000]) {
  test(`a sine of amplitude A reads 20 lg A - 3.01 dBov at ${rate} Hz`, () => {
    const made = new Made({ rate, roomDbov: -Infinity });
    made.tone(2, 997, 0.1);
    const { levelDbov, peak } = liveSnapshot(heard(made.samples(), { rate }));
    near(levelDbov, 20 * Math.log10(0.1) - 3.0103, 0.05);
    near(peak, 0.1, 1e-3);
  });
}

test("a constant has no level", () => {
  const state = heard(new Float32Array(96_000).fill(0.5));
  assert.ok(liveSnapshot(state).levelDbov < -100);
});

test("silence is an answer, and what is no number is silence", () => {
  for (const samples of [new Float32Array(96_000), new Float32Array(96_000).fill(NaN)]) {
    const snapshot = liveSnapshot(heard(samples));
    assert.deepEqual(snapshot, {
      levelDbov: -Infinity,
      peak: 0,
      clipped: 0,
      speaking: false,
      floorDbov: null,
      voiceDbov: null,
      rolling: true,
      secondsRolled: 2,
      silentS: 2,
      wordRateHint: null,
      runs: [],
    });
  }
  assert.equal(liveSnapshot(startLive(48_000)).levelDbov, -Infinity);
});

for (const roomDbov of [-75, -65, -55, -45]) {
  for (const voiceDbov of [-40, -30, -20]) {
    if (voiceDbov - roomDbov < 15) continue;
    test(`sentences at ${voiceDbov} in a room at ${roomDbov} are found where they are`, () => {
      const { samples, said } = sentences({ roomDbov, voiceDbov, seed: 7 });
      const { runs, floorDbov, voiceDbov: found } = liveSnapshot(heard(samples));
      assert.equal(runs.length, said.length);
      runs.forEach((run, index) => {
        near(run.startSample, said[index][0], 4800, "start");
        near(run.stopSample ?? NaN, said[index][1], 4800, "stop");
        assert.equal(run.startS, run.startSample / 48_000);
      });
      near(floorDbov ?? NaN, roomDbov, 1.5, "floor");
      near(found ?? NaN, voiceDbov, 1.5, "voice");
    });
  }
}

test("a gain moves every level by itself and no run", () => {
  const { samples } = sentences({ seed: 3 });
  const one = liveSnapshot(heard(samples));
  const other = liveSnapshot(heard(samples.map((value) => value / 4)));
  assert.deepEqual(other.runs, one.runs);
  const gain = 20 * Math.log10(1 / 4);
  near(other.levelDbov - one.levelDbov, gain, 1e-4);
  near((other.floorDbov ?? NaN) - (one.floorDbov ?? NaN), gain, 1e-4);
  near((other.voiceDbov ?? NaN) - (one.voiceDbov ?? NaN), gain, 1e-4);
});

test("paper and keys are no voice, before a reader spoke and after", () => {
  const made = new Made({ seed: 4 });
  made.pause(1);
  for (const levelDbov of [-45, -35, -25, -18]) {
    made.rustle(0.8, levelDbov);
    made.pause(0.4);
    made.click();
    made.pause(0.3);
  }
  const [start, stop] = made.speech(2);
  made.pause(0.8);
  for (const levelDbov of [-45, -35, -25, -18]) {
    made.rustle(0.8, levelDbov);
    made.pause(0.4);
    made.click();
    made.pause(0.3);
  }
  const { runs } = liveSnapshot(heard(made.samples()));
  assert.equal(runs.length, 1);
  near(runs[0].startSample, start, 4800);
  near(runs[0].stopSample, stop, 4800);
});

test("paper at the very end of a word stretches its run by a third of a second at most", () => {
  const made = new Made({ seed: 5 });
  made.pause(1);
  const [, stop] = made.speech(2);
  made.rustle(2, -28);
  made.pause(1);
  const { runs } = liveSnapshot(heard(made.samples()));
  assert.equal(runs.length, 1);
  assert.ok(runs[0].stopSample - stop <= 0.35 * 48_000);
});

test("a steady hum is the room, not a voice", () => {
  const made = new Made({ seed: 6 });
  made.tone(8, 100, 0.02);
  const snapshot = liveSnapshot(heard(made.samples()));
  assert.equal(snapshot.speaking, false);
  near(snapshot.floorDbov ?? NaN, 20 * Math.log10(0.02) - 3.01, 1);
});

test("a fan that comes on is followed", () => {
  const made = new Made({ seed: 7, roomDbov: -75 });
  made.pause(4);
  made.speech(2);
  const before = made.samples();
  const loud = new Made({ seed: 8, roomDbov: -48 });
  loud.pause(14);
  const said = loud.speech(2);
  loud.pause(1);
  const after = loud.samples();
  const both = new Float32Array(before.length + after.length);
  both.set(before);
  both.set(after, before.length);
  const { runs, floorDbov } = liveSnapshot(heard(both));
  near(floorDbov ?? NaN, -48, 1.5);
  assert.equal(runs.length, 2);
  near(runs[1].startSample - before.length, said[0], 4800);
});

test("takes and their samples: a run belongs to the take in which it was said", () => {
  const made = new Made({ seed: 9 });
  made.pause(2);
  const first = made.speech(2);
  made.pause(1);
  const hold = made.size;
  made.speech(1);
  made.pause(1);
  const again = made.size;
  made.pause(0.6);
  const second = made.speech(2);
  made.pause(1);
  const roll = 48_000;
  const snapshot = liveSnapshot(heard(made.samples(), { rolls: [roll, hold, again] }));
  assert.deepEqual(
    snapshot.runs.map((run) => run.take),
    [1, 2],
  );
  near(snapshot.runs[0].startSample, first[0] - roll, 4800);
  near(snapshot.runs[1].startSample, second[0] - again, 4800);
  near(snapshot.runs[1].startS, (hold - roll + second[0] - again) / 48_000, 0.1);
  near(snapshot.secondsRolled, (hold - roll + made.size - again) / 48_000, 1e-9);
});

test("what was kept from before the roll belongs to the take", () => {
  const made = new Made({ seed: 10 });
  made.pause(2);
  const [start] = made.speech(2);
  made.pause(1);
  const samples = made.samples();
  const roll = start + 9_600;
  const kept = 24_000;
  const state = startLive(48_000);
  liveStep(state, samples.subarray(0, roll), false);
  liveRolls(state, 7, kept);
  liveStep(state, samples.subarray(roll), true);
  const { runs, secondsRolled } = liveSnapshot(state);
  assert.equal(runs.length, 1);
  assert.equal(runs[0].take, 7);
  near(runs[0].startSample, start - (roll - kept), 4800);
  near(secondsRolled, (samples.length - roll + kept) / 48_000, 1e-9);
});

test("a run that is going on has no stop; holding ends it", () => {
  const made = new Made({ seed: 11 });
  made.pause(2);
  made.speech(3);
  const samples = made.samples();
  const state = heard(samples);
  assert.equal(liveSnapshot(state).speaking, true);
  assert.equal(liveSnapshot(state).runs[0].stopSample, null);
  liveStep(state, new Float32Array(0), false);
  assert.equal(liveSnapshot(state).runs[0].stopSample, samples.length);
});

test("silence since the last word is told while rolling, not while held", () => {
  const made = new Made({ seed: 12 });
  made.pause(2);
  made.speech(2);
  made.pause(5);
  const state = heard(made.samples());
  near(liveSnapshot(state).silentS, 5, 0.15);
  liveStep(state, new Float32Array(0), false);
  assert.equal(liveSnapshot(state).silentS, 0);
});

test("runs of the last half minute alone are kept, for as long as it goes on", () => {
  const state = startLive(8_000);
  const made = new Made({ rate: 8_000, seed: 13 });
  made.pause(0.6);
  made.speech(1.4);
  const samples = made.samples();
  for (let count = 0; count < 300; count += 1) {
    liveStep(state, samples, true);
    assert.ok(state.runs.length <= 18);
    assert.ok(state.nuclei.length < 1000);
  }
  const { runs, secondsRolled } = liveSnapshot(state);
  near(secondsRolled, 600, 1e-9);
  assert.ok(runs.length >= 14 && runs.length <= 16);
  assert.ok(runs.every((run) => run.stopS === null || run.stopS > secondsRolled - 30));
});

test("flat tops at full scale are counted for five seconds; a loud sine has none", () => {
  const made = new Made({ roomDbov: -Infinity });
  made.tone(1, 200, 1.6);
  const clipped = made.samples().map((value) => Math.max(-1, Math.min(1, value)));
  const state = heard(clipped);
  // Two tops a period; the count may differ by one at either end.
  near(liveSnapshot(state).clipped, 400, 2);
  liveStep(state, new Float32Array(48_000 * 4), true);
  assert.ok(liveSnapshot(state).clipped > 0);
  liveStep(state, new Float32Array(48_000 * 2), true);
  assert.equal(liveSnapshot(state).clipped, 0);
  for (const hz of [80, 200, 997]) {
    const loud = new Made({ roomDbov: -Infinity });
    loud.tone(1, hz, 0.99);
    assert.equal(liveSnapshot(heard(loud.samples())).clipped, 0, `${hz} Hz`);
  }
});

test("five syllables a second are about 211 words a minute of 1.42 nuclei; little speech, none", () => {
  const made = new Made({ seed: 14 });
  made.pause(1);
  made.speech(29);
  near(liveSnapshot(heard(made.samples())).wordRateHint ?? NaN, (5 / 1.42) * 60 * (29 / 30), 12);
  const short = new Made({ seed: 14 });
  short.speech(15);
  assert.equal(liveSnapshot(heard(short.samples())).wordRateHint, null);
});
