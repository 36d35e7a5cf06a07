// Finds sentences in raw float32 files given on standard input, a path and a rate a line; prints a line
// of JSON for each: the starts, and how long it took.

import { readFileSync } from "node:fs";

import {
  sentencesStep,
  startSentences,
} from "../../../src/quietleaf/web/static/scripts/core/sentences.js";

const BLOCK = 441;

for (const line of readFileSync(0, "utf8").trim().split("\n")) {
  const [path, rateHz] = line.split("\t");
  const bytes = readFileSync(path);
  const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
  const state = startSentences(Number(rateHz));
  const starts = [];
  for (let place = 0; place < samples.length; place += BLOCK) {
    starts.push(...sentencesStep(state, samples.subarray(place, place + BLOCK)));
  }
  process.stdout.write(`${JSON.stringify(starts)}\n`);
}
