// Which key does what on a page: at the stand, and on the ear page. A key is known by its `code`, its
// place on the keyboard, since a pedal has no other name. Pure: the page asks for every press and
// keeps what `kept` gives.

/** @typedef {"main" | "again" | "undo" | "article" | "words" | "hear" | "help" | "time"} Action */

/** @typedef {"main" | "next" | "previous" | "hear" | "hearCut" | "back" | "on" | "slower" | "faster" | "leave" | "repair" | "cut" | "again" | "remark" | "mark" | "undo"} EarAction */

/**
 * @template {string} [A=Action]
 * @typedef {object} Keys
 * @property {boolean} on Whether keys that type a character act.
 * @property {Record<A, string>} codes
 * @property {string | null} pedal A second key for the main action.
 * @property {string | null} pedalAgain A second key to take a sentence again.
 */

/**
 * @typedef {object} Press
 * @property {string} code
 * @property {boolean} repeat
 * @property {boolean} ctrlKey
 * @property {boolean} altKey
 * @property {boolean} metaKey
 * @property {boolean} isComposing
 */

/** @type {readonly Action[]} */
export const ACTIONS = ["main", "again", "undo", "article", "words", "hear", "help", "time"];

/** What can be learned beside the keys of the actions. */
export const PEDALS = /** @type {const} */ (["pedal", "pedalAgain"]);
/** @typedef {(typeof PEDALS)[number]} Pedal */

/** @type {Keys} */
export const FIRST_KEYS = {
  on: true,
  codes: {
    main: "Space",
    again: "KeyA",
    undo: "KeyU",
    article: "KeyN",
    words: "KeyC",
    hear: "KeyL",
    help: "KeyH",
    time: "KeyT",
  },
  pedal: null,
  pedalAgain: null,
};

/** Where the stand has the same, it has the same key: read again, undo; else what the word begins with, as *earlier* and *go on*. @type {Keys<EarAction>} */
export const EAR_KEYS = {
  on: true,
  codes: {
    main: "Space",
    next: "KeyN",
    previous: "KeyP",
    hear: "KeyH",
    hearCut: "KeyT",
    back: "KeyE",
    on: "KeyG",
    slower: "KeyS",
    faster: "KeyF",
    leave: "KeyL",
    repair: "KeyR",
    cut: "KeyC",
    again: "KeyA",
    remark: "KeyW",
    mark: "KeyM",
    undo: "KeyU",
  },
  pedal: null,
  pedalAgain: null,
};

/** Codes that move the focus, leave something or belong to the system: never learned. */
const NEVER =
  /^(Tab|Escape|Shift\w+|Control\w+|Alt\w+|Meta\w+|OS\w+|ContextMenu|CapsLock|Fn|F5|F11|F12|)$/;

/** Codes that do something on a button or in a list that has the focus. */
const OF_THE_FOCUS = new Set(["Space", "Enter", "NumpadEnter"]);

const TYPES_A_CHARACTER =
  /^(Key[A-Z]|Digit\d|Numpad(\d|Add|Subtract|Multiply|Divide|Decimal|Comma|Equal)|Space|Minus|Equal|Bracket\w+|Backslash|Semicolon|Quote|Backquote|Comma|Period|Slash|Intl\w+)$/;

/**
 * Whether a key types a character: these can be switched off (WCAG 2.2, 2.1.4), the others, as a
 * pedal's, harm nobody who dictates.
 *
 * @param {string} code
 */
export function typesCharacter(code) {
  return TYPES_A_CHARACTER.test(code);
}

/**
 * The actions that have a key.
 *
 * @template {string} A
 * @param {Keys<A>} keys
 */
export function actionsOf(keys) {
  return /** @type {A[]} */ (Object.keys(keys.codes));
}

/**
 * What a press asks for; null where it asks for nothing here.
 *
 * @template {string} [A=Action]
 * @param {Keys<A>} keys
 * @param {Press} press
 * @param {"page" | "main" | "control" | "field"} focus What has the focus: a field takes every
 *   key; a control other than the main one takes those that press it.
 * @returns {A | "main" | "again" | null} Where there are no pedals, one of the keys' own.
 */
export function actionOf(keys, press, focus) {
  if (press.ctrlKey || press.altKey || press.metaKey || press.isComposing) return null;
  if (focus === "field" || (!keys.on && typesCharacter(press.code))) return null;
  if (focus === "control" && OF_THE_FOCUS.has(press.code)) return null;
  if (press.code === keys.pedal) return "main";
  if (press.code === keys.pedalAgain) return "again";
  return actionsOf(keys).find((action) => keys.codes[action] === press.code) ?? null;
}

/**
 * The keys after one was learned; `taken` says why it was not.
 *
 * @template {string} [A=Action]
 * @param {Keys<A>} keys
 * @param {A | Pedal} target
 * @param {string} code
 * @returns {{keys: Keys<A>, taken: A | Pedal | "system" | null}}
 */
export function learn(keys, target, code) {
  if (NEVER.test(code)) return { keys, taken: "system" };
  const other = actionsOf(keys).find(
    (action) => action !== target && keys.codes[action] === code,
  );
  if (other !== undefined) return { keys, taken: other };
  const pedal = PEDALS.find((which) => which !== target && keys[which] === code);
  if (pedal !== undefined) return { keys, taken: pedal };
  const learned = isPedal(target)
    ? { ...keys, [target]: code }
    : { ...keys, codes: { ...keys.codes, [target]: code } };
  return { keys: learned, taken: null };
}

/**
 * @param {string} target
 * @returns {target is Pedal}
 */
export function isPedal(target) {
  return PEDALS.some((pedal) => pedal === target);
}

/**
 * What is kept for the next time.
 *
 * @param {Keys<string>} keys
 */
export function kept(keys) {
  return JSON.stringify(keys);
}

/**
 * The keys that were kept, or the first ones where nothing usable was.
 *
 * @template {string} [A=Action]
 * @param {string | null} text
 * @param {Keys<A>} first
 * @returns {Keys<A>}
 */
export function keysOf(text, first = /** @type {Keys<any>} */ (FIRST_KEYS)) {
  /** @type {unknown} */
  let found;
  try {
    found = JSON.parse(text ?? "null");
  } catch {
    return first; // Another version, or another hand, wrote it.
  }
  if (typeof found !== "object" || found === null) return first;
  const { on, codes, pedal, pedalAgain } = /** @type {Partial<Keys<A>>} */ (found);
  if (typeof on !== "boolean" || typeof codes !== "object" || codes === null) return first;
  // What was kept before there was an action has no key for it yet.
  const all = { ...first.codes, ...codes };
  const named = actionsOf(first).map((action) => all[action]);
  const usable = named.every((code) => typeof code === "string" && !NEVER.test(code));
  if (!usable || new Set(named).size !== named.length) return first;
  return { on, codes: all, pedal: usablePedal(pedal), pedalAgain: usablePedal(pedalAgain) };
}

/** @param {unknown} code */
function usablePedal(code) {
  return typeof code === "string" && !NEVER.test(code) ? code : null;
}

/**
 * The word on a key: what its place types here, where the browser knows, else its code in words.
 *
 * @param {string} code
 * @param {{get(code: string): string | undefined} | null} layout
 */
export function nameOfKey(code, layout = null) {
  const typed = layout?.get(code);
  if (typed !== undefined && typed.trim() !== "") return typed.toUpperCase();
  if (/^Key[A-Z]$/.test(code)) return code.slice(3);
  if (/^Digit\d$/.test(code)) return code.slice(5);
  const spaced = code.replace(/([a-z])(?=[A-Z0-9])/g, "$1 ");
  return /^F\d+$/.test(code) ? code : spaced.toLowerCase();
}
