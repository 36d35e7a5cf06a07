import assert from "node:assert/strict";
import { test } from "node:test";

import {
  ADVICE_LIMITS,
  adviceStep,
  startAdvice,
} from "../../../src/quietleaf/web/static/scripts/core/advice.js";

const WELL = {
  levelDbov: -28,
  peak: 0.3,
  clipped: 0,
  speaking: true,
  floorDbov: -65,
  voiceDbov: -26,
  rolling: true,
  secondsRolled: 100,
  silentS: 0,
  wordRateHint: null,
  runs: [],
};

/** Look ten times a second; give [code, at] for each change. */
function told(scene, lengthS, start = startAdvice()) {
  let state = start;
  const changes = [];
  for (let tick = 0; tick < lengthS * 10; tick += 1) {
    const nowS = tick / 10;
    const step = adviceStep(state, { ...WELL, ...scene(nowS) }, nowS);
    state = step.state;
    const code = step.advice?.code ?? null;
    if ((changes.at(-1)?.[0] ?? null) !== code) changes.push([code, nowS]);
  }
  return changes;
}

test("an ordinary reading is told nothing", () => {
  assert.deepEqual(told(() => ({}), 600), []);
});

test("before anybody spoke nothing is known, and nothing said", () => {
  const scene = () => ({ rolling: false, voiceDbov: null, floorDbov: null, speaking: false });
  assert.deepEqual(told(scene, 60), []);
});

test("too quiet is said after some seconds, for 20 s at most, and then not for a while", () => {
  const changes = told(() => ({ voiceDbov: -44, floorDbov: -80 }), 250);
  assert.deepEqual(
    changes.map(([code]) => code),
    ["too-quiet", null, "too-quiet", null, "too-quiet", null],
  );
  assert.equal(changes[0][1], 6);
  assert.equal(changes[1][1], 26);
  assert.ok(changes[2][1] - changes[1][1] >= 90);
});

test("a moment of anything is not worth a word", () => {
  const bad = [
    { voiceDbov: -48, floorDbov: -80 },
    { voiceDbov: -9 },
    { floorDbov: -40 },
    { clipped: 5 },
    { levelDbov: -Infinity },
  ];
  for (const scene of bad) {
    assert.deepEqual(told((nowS) => (nowS >= 5 && nowS < 5.8 ? scene : {}), 60), []);
  }
});

test("a level that wavers about a limit does not flicker", () => {
  for (const [limit, swing] of [
    [ADVICE_LIMITS.quietDbov, 1.5],
    [ADVICE_LIMITS.loudDbov, 1.5],
  ]) {
    const scene = (nowS) => ({
      voiceDbov: limit + swing * Math.sin(2 * Math.PI * 0.9 * nowS) + (limit < -20 ? -0.9 : 0.9),
      floorDbov: -90,
    });
    const changes = told(scene, 120);
    for (let index = 1; index < changes.length; index += 1) {
      assert.ok(changes[index][1] - changes[index - 1][1] >= 4, JSON.stringify(changes));
    }
    assert.ok(changes.length <= 4);
  }
});

test("what is better goes, though not before it could be read", () => {
  const scene = (nowS) => (nowS < 8 ? { voiceDbov: -9 } : {});
  const changes = told(scene, 60);
  assert.deepEqual(
    changes.map(([code]) => code),
    ["too-loud", null],
  );
  assert.ok(changes[1][1] - changes[0][1] >= 4);
  assert.ok(changes[1][1] <= 12);
});

test("a room that is too loud for the voice", () => {
  const changes = told(() => ({ floorDbov: -40 }), 60);
  assert.equal(changes[0][0], "room-loud");
  assert.ok(changes[0][1] >= 8);
  // A louder voice allows more of it.
  assert.deepEqual(told(() => ({ floorDbov: -40, voiceDbov: -16 }), 60), []);
});

test("a take in which nobody is heard says so until somebody is", () => {
  const scene = (nowS) =>
    nowS < 40
      ? { speaking: false, silentS: nowS, secondsRolled: nowS, voiceDbov: null }
      : { secondsRolled: nowS };
  const changes = told(scene, 60);
  assert.deepEqual(
    changes.map(([code]) => code),
    ["not-heard", null],
  );
  assert.ok(changes[0][1] >= ADVICE_LIMITS.unheardS && changes[0][1] < 8);
  assert.ok(changes[1][1] >= 41 && changes[1][1] < 43);
});

test("a reader who looks for a place has ten seconds", () => {
  const scene = (limitS) => (nowS) => ({
    silentS: Math.max(0, Math.min(nowS - 5, limitS)),
    speaking: nowS < 5 || nowS > 5 + limitS,
    ...(nowS > 5 + limitS ? { silentS: 0 } : {}),
  });
  assert.deepEqual(told(scene(8), 40), []);
  assert.equal(told(scene(14), 40)[0][0], "not-heard");
});

test("held, nothing is said of the voice; that no sound comes is said even then", () => {
  const held = { rolling: false };
  assert.deepEqual(told(() => ({ ...held, voiceDbov: -48, clipped: 9, floorDbov: -40 }), 60), []);
  assert.equal(told(() => ({ ...held, levelDbov: -Infinity }), 60)[0][0], "no-sound");
  // What was being said goes with the hold.
  const changes = told((nowS) => ({ voiceDbov: -9, rolling: nowS < 10 }), 30);
  assert.deepEqual(changes, [
    ["too-loud", 4],
    [null, 10],
  ]);
});

test("one at a time, the graver first", () => {
  const changes = told((nowS) => ({ voiceDbov: -9, clipped: nowS > 6 ? 8 : 0 }), 18);
  assert.deepEqual(
    changes.map(([code]) => code),
    ["too-loud", "clipping"],
  );
});

test("since says when it began to be said", () => {
  let state = startAdvice({ quietDbov: -30 });
  let advice = null;
  for (let tick = 0; tick <= 100; tick += 1) {
    ({ state, advice } = adviceStep(state, { ...WELL, voiceDbov: -35 }, tick / 10));
  }
  assert.deepEqual(advice, { code: "too-quiet", since: 6 });
});

test("the state that was given stays as it was", () => {
  const state = startAdvice();
  const copy = structuredClone(state);
  adviceStep(state, { ...WELL, voiceDbov: -9 }, 1);
  assert.deepEqual(state, copy);
});
