import assert from "node:assert/strict";
import { test } from "node:test";

import {
  ACTIONS,
  EAR_KEYS,
  FIRST_KEYS,
  actionOf,
  kept,
  keysOf,
  learn,
  nameOfKey,
  typesCharacter,
} from "../../../src/quietleaf/web/static/scripts/core/keys.js";

const press = (code, more = {}) => ({
  code,
  repeat: false,
  ctrlKey: false,
  altKey: false,
  metaKey: false,
  isComposing: false,
  ...more,
});

test("each control has a key of its own", () => {
  for (const action of ACTIONS) {
    assert.equal(actionOf(FIRST_KEYS, press(FIRST_KEYS.codes[action]), "page"), action);
  }
  assert.equal(actionOf(FIRST_KEYS, press("KeyQ"), "page"), null);
});

test("no key acts while a field has the focus, not even a pedal", () => {
  const { keys } = learn(FIRST_KEYS, "pedal", "F13");
  for (const code of ["Space", "KeyN", "KeyC", "KeyH", "F13"]) {
    assert.equal(actionOf(keys, press(code), "field"), null);
  }
});

test("a control that has the focus keeps the keys that press it; the main one rolls and holds", () => {
  assert.equal(actionOf(FIRST_KEYS, press("Space"), "control"), null);
  assert.equal(actionOf(FIRST_KEYS, press("KeyN"), "control"), "article");
  assert.equal(actionOf(FIRST_KEYS, press("Space"), "main"), "main");
});

test("a key with Ctrl, Alt or Meta is the browser's", () => {
  for (const held of ["ctrlKey", "altKey", "metaKey", "isComposing"]) {
    assert.equal(actionOf(FIRST_KEYS, press("KeyN", { [held]: true }), "page"), null);
  }
});

test("keys that type a character can be switched off; a pedal's goes on", () => {
  const { keys } = learn({ ...FIRST_KEYS, on: false }, "pedal", "F13");
  assert.equal(actionOf(keys, press("Space"), "page"), null);
  assert.equal(actionOf(keys, press("KeyN"), "page"), null);
  assert.equal(actionOf(keys, press("F13"), "page"), "main");
  assert.ok(typesCharacter("Numpad5"));
  for (const code of ["F24", "PageDown", "MediaPlayPause", "AudioVolumeUp"]) {
    assert.ok(!typesCharacter(code), code);
  }
});

test("a pedal is learned by its code, beside the key", () => {
  const { keys, taken } = learn(FIRST_KEYS, "pedal", "PageDown");
  assert.equal(taken, null);
  assert.equal(actionOf(keys, press("PageDown"), "page"), "main");
  assert.equal(actionOf(keys, press("Space"), "page"), "main");
});

test("a key is changed; one that is taken, or the browser's, is refused", () => {
  const { keys } = learn(FIRST_KEYS, "article", "KeyM");
  assert.equal(actionOf(keys, press("KeyM"), "page"), "article");
  assert.equal(actionOf(keys, press("KeyN"), "page"), null);
  assert.equal(learn(keys, "help", "KeyM").taken, "article");
  assert.equal(learn(keys, "pedal", "KeyC").taken, "words");
  for (const code of ["Tab", "Escape", "ShiftLeft", "F5", ""]) {
    assert.equal(learn(keys, "article", code).taken, "system", code);
  }
  const pedalled = learn(keys, "pedal", "F13").keys;
  assert.equal(learn(pedalled, "article", "F13").taken, "pedal");
  assert.equal(learn(keys, "article", "KeyM").taken, null);
});

test("what is kept comes back, and what cannot be used does not", () => {
  const { keys } = learn({ ...FIRST_KEYS, on: false }, "pedal", "F13");
  assert.deepEqual(keysOf(kept(keys)), keys);
  for (const text of [
    null,
    "",
    "{",
    "7",
    "null",
    '{"on":true}',
    JSON.stringify({ ...FIRST_KEYS, codes: { ...FIRST_KEYS.codes, help: "Space" } }),
  ]) {
    assert.deepEqual(keysOf(text), FIRST_KEYS);
  }
});

test("keys that were kept before there was an action stay, and it has its first key", () => {
  const { again: _, undo: __, ...codes } = { ...FIRST_KEYS.codes, help: "KeyM" };
  const found = keysOf(JSON.stringify({ on: true, codes, pedal: "F13" }));
  assert.deepEqual(found, {
    on: true,
    codes: { ...FIRST_KEYS.codes, help: "KeyM" },
    pedal: "F13",
    pedalAgain: null,
  });
  const clash = keysOf(JSON.stringify({ on: true, codes: { ...codes, help: "KeyA" }, pedal: null }));
  assert.deepEqual(clash, FIRST_KEYS);
});

test("a key is called what it types here", () => {
  assert.equal(nameOfKey("KeyN"), "N");
  assert.equal(nameOfKey("KeyN", new Map([["KeyN", "b"]])), "B");
  assert.equal(nameOfKey("Space", new Map([["Space", " "]])), "space");
  assert.equal(nameOfKey("PageDown"), "page down");
  assert.equal(nameOfKey("F13"), "F13");
  assert.equal(nameOfKey("Digit4"), "4");
});

test("another pedal takes a sentence again, and the two are not one key", () => {
  const first = learn(FIRST_KEYS, "pedal", "F13").keys;
  assert.equal(learn(first, "pedalAgain", "F13").taken, "pedal");
  assert.equal(learn(first, "pedalAgain", "KeyN").taken, "article");
  const { keys, taken } = learn(first, "pedalAgain", "F14");
  assert.equal(taken, null);
  assert.equal(learn(keys, "pedal", "F14").taken, "pedalAgain");
  const found = keysOf(kept({ ...keys, on: false }));
  assert.equal(actionOf(found, press("F13"), "page"), "main");
  assert.equal(actionOf(found, press("F14"), "page"), "again");
  assert.equal(actionOf(found, press("F14"), "field"), null);
});

test("the ear page has keys of its own, kept and learned as those of the stand", () => {
  const codes = Object.values(EAR_KEYS.codes);
  assert.equal(new Set(codes).size, codes.length);
  assert.equal(actionOf(EAR_KEYS, press("KeyA"), "page"), "again");
  const { keys, taken } = learn(EAR_KEYS, "leave", "KeyC");
  assert.deepEqual([keys, taken], [EAR_KEYS, "cut"]);
  const learned = learn(EAR_KEYS, "leave", "F9").keys;
  assert.deepEqual(keysOf(kept(learned), EAR_KEYS), learned);
  // What the stand kept is none of it.
  const strange = keysOf(kept({ ...FIRST_KEYS, codes: { main: "KeyC" } }), EAR_KEYS);
  assert.deepEqual(strange, EAR_KEYS);
});
