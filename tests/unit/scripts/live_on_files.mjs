// Hears raw float32 files given on standard input, a path and a rate a line; prints a line of JSON for
// each: its runs in seconds, and the levels each second.

import { readFileSync } from "node:fs";

import {
  liveSnapshot,
  liveStep,
  startLive,
} from "../../../src/quietleaf/web/static/scripts/core/live.js";

const BLOCK = 441;

for (const line of readFileSync(0, "utf8").trim().split("\n")) {
  const [path, rateHz] = line.split("\t");
  const bytes = readFileSync(path);
  const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
  const rate = Number(rateHz);
  const state = startLive(rate);
  const runs = new Map();
  const voice = [];
  let second = 0;
  const look = () => {
    const snapshot = liveSnapshot(state);
    for (const run of snapshot.runs) runs.set(run.startS, run.stopS);
    return snapshot;
  };
  for (let place = 0; place < samples.length; place += BLOCK) {
    liveStep(state, samples.subarray(place, place + BLOCK), true);
    if (place / rate >= second) {
      second += 1;
      voice.push(look().voiceDbov);
    }
  }
  liveStep(state, new Float32Array(0), false);
  look();
  process.stdout.write(`${JSON.stringify({ runs: [...runs], voice })}\n`);
}
