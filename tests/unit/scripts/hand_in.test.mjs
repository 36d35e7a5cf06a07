import assert from "node:assert/strict";
import { test } from "node:test";

import { draftName, draftOf, fieldsOf, unsentS } from "../../../src/quietleaf/web/static/scripts/core/hand_in.js";
import { behind, length } from "../../../src/quietleaf/web/static/scripts/texts/hand_in.js";

test("a draft comes back as it was typed", () => {
  const typed = [
    ["remark", "“Zoë” <b>\nمرحبا 👩‍🦯"],
    ["place_page", "7"],
  ];
  assert.deepEqual(fieldsOf(draftOf(typed)), typed);
});

test("nothing typed is no draft", () => {
  assert.equal(draftOf([["remark", ""]]), "");
  assert.deepEqual(fieldsOf(""), []);
  assert.deepEqual(fieldsOf(null), []);
});

test("what is no draft holds nothing", () => {
  for (const text of ["{", "7", '{"a":1}', "[1]", '[["a"]]', '[["a",2]]', '[["a","b","c"]]']) {
    assert.deepEqual(fieldsOf(text), [], text);
  }
});

test("each reading has a draft of its own", () => {
  assert.notEqual(draftName("readings:a"), draftName("readings:b"));
  assert.ok(draftName("readings:a").startsWith("hand-in "));
});

test("what every page is behind while it is in time counts as nothing", () => {
  assert.equal(unsentS(0.05), 0);
  assert.equal(unsentS(75.2), 75.2);
  for (const odd of [undefined, null, "12", NaN, -3]) assert.equal(unsentS(odd), 0);
});

test("lengths are said as people say them", () => {
  assert.equal(length(0.4), "1 second");
  assert.equal(length(59.4), "59 seconds");
  assert.equal(length(59.6), "1 min 00");
  assert.equal(length(605), "10 min 05");
  assert.match(behind(42), /^About 42 seconds are still on their way/);
});
