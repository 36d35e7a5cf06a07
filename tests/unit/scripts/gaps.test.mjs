import assert from "node:assert/strict";
import { test } from "node:test";
import { gapsDue, gapsStep, startGaps } from "../../../src/quietleaf/web/static/scripts/core/gaps.js";

const RATE = 44_100;
const BLOCK = 441;

/**
 * Hear blocks of 10 ms; `happens` changes the clocks before a block.
 * @param {number} blocks
 * @param {(clocks: {nowMs: number, dateMs: number, stampMs: number, held: number}, block: number) => void} happens
 * @param {boolean} hasStamps
 */
function hear(blocks, happens, hasStamps = true) {
  const state = startGaps(RATE);
  const clocks = { nowMs: 5_000, dateMs: 1e12, stampMs: 70, held: 0 };
  const gaps = [];
  for (let block = 0; block < blocks; block += 1) {
    happens(clocks, block);
    gaps.push(...gapsStep(state, {
      samples: BLOCK,
      stampUs: hasStamps ? 1000 * clocks.stampMs : null,
      nowMs: clocks.nowMs + clocks.held,
      dateMs: clocks.dateMs + clocks.held,
    }));
    clocks.nowMs += 10;
    clocks.dateMs += 10;
    clocks.stampMs += 10;
  }
  return { state, gaps };
}

test("sound that comes as it should has no gap", () => {
  assert.deepEqual(hear(2_000, () => {}).gaps, []);
});

test("stamps that jump while a device starts are no gap", () => {
  const { gaps } = hear(1_000, (clocks, block) => {
    if (block === 2 || block === 180) clocks.stampMs += 173;
  });
  assert.deepEqual(gaps, []);
});

test("blocks that were queued and come all at once are no gap", () => {
  const { gaps } = hear(2_000, (clocks, block) => {
    // For two seconds each block waits until the stall is over.
    clocks.held = block >= 700 && block < 900 ? 10 * (900 - block) : 0;
  });
  assert.deepEqual(gaps, []);
});

test("a suspended browser: so long as the stamps say, where they say it", () => {
  // As seen under SIGSTOP: nothing for 3 s, one block of before, then the stamps jump.
  const { gaps } = hear(1_000, (clocks, block) => {
    if (block === 502) clocks.nowMs += 3_000;
    if (block === 502) clocks.dateMs += 3_000;
    if (block === 503) clocks.stampMs += 3_000;
  });
  assert.deepEqual(gaps, [{ at: 503 * BLOCK, samples: 3 * RATE, reason: "paused" }]);
});

test("blocks that were thrown away, though none came late by much", () => {
  const { gaps } = hear(1_000, (clocks, block) => {
    if (block !== 640) return;
    clocks.nowMs += 60;
    clocks.dateMs += 60;
    clocks.stampMs += 60;
  });
  assert.deepEqual(gaps, [{ at: 640 * BLOCK, samples: 2_646, reason: "dropped" }]);
});

test("without stamps the clock alone tells", () => {
  const { gaps } = hear(1_000, (clocks, block) => {
    if (block !== 500) return;
    clocks.nowMs += 2_000;
    clocks.dateMs += 2_000;
  }, false);
  assert.deepEqual(gaps, [{ at: 500 * BLOCK, samples: 2 * RATE, reason: "paused" }]);
});

test("a computer that slept: the clock on the wall went on", () => {
  for (const stamps of [0, 600_000]) {
    const { gaps } = hear(1_000, (clocks, block) => {
      if (block !== 500) return;
      clocks.dateMs += 600_000;
      clocks.stampMs += stamps;
    });
    assert.deepEqual(gaps, [{ at: 500 * BLOCK, samples: 600 * RATE, reason: "asleep" }]);
  }
});

test("two clocks that drift apart are no gap", () => {
  const { gaps } = hear(60_000, (clocks) => {
    clocks.nowMs += 0.002; // 200 ppm
  });
  assert.deepEqual(gaps, []);
});

test("a take that ends just after a gap still has it", () => {
  const { state, gaps } = hear(560, (clocks, block) => {
    if (block !== 540) return;
    clocks.nowMs += 1_000;
    clocks.dateMs += 1_000;
    clocks.stampMs += 1_000;
  });
  assert.deepEqual(gaps, []);
  assert.deepEqual(gapsDue(state), [{ at: 540 * BLOCK, samples: RATE, reason: "paused" }]);
  assert.deepEqual(gapsDue(state), []);
});
