import assert from "node:assert/strict";
import { test } from "node:test";

import { edgesOf } from "../../../src/quietleaf/web/static/scripts/core/edges.js";

const trimmedS = (...given) =>
  edgesOf(...given).reduce((sum, { startS, stopS }) => sum + stopS - startS, 0);
const near = (value, wanted) => assert.ok(Math.abs(value - wanted) < 1e-9, `${value}`);

test("what lies before the first word and after the last goes, but for a little of the room", () => {
  near(trimmedS(10, 70, 11, 68), 0.8 + 1.7);
  near(trimmedS(10, 70, 10.1, 69.9), 0);
});

test("a take without a voice is left alone, but for a key pressed twice", () => {
  near(trimmedS(10, 70, null, null), 0);
  near(trimmedS(10, 11.5, null, null), 1.5);
});
