// The keys and the pedal: what does what, learned by pressing it. Wires the section of a page.

import {
  actionsOf,
  isPedal,
  kept,
  keysOf,
  learn,
  nameOfKey,
} from "../core/keys.js";
import { KEYS } from "../texts/stand.js";

/** @typedef {import("../core/keys.js").Pedal} Pedal */

/**
 * What a page's keys are.
 *
 * @template {string} A
 * @typedef {object} PageKeys
 * @property {string} kept Under which name they are kept in this browser.
 * @property {import("../core/keys.js").Keys<A>} first As they are at first.
 * @property {Record<A, string>} names What each does, in words.
 * @property {readonly Pedal[]} pedals Those that the page has, beside the keys of its actions.
 */

/** @template {string} A */
export class KeySettings extends EventTarget {
  /** @type {import("../core/keys.js").Keys<A>} */ keys;
  /** @type {{get(code: string): string | undefined} | null} */ #layout = null;
  /** @type {A | Pedal | null} */ #learning = null;
  /** @type {HTMLElement} */ #said;
  /** @type {Map<A, HTMLElement>} */ #names = new Map();

  /**
   * @param {import("../core/owner.js").Owner} owner
   * @param {HTMLElement} section
   * @param {PageKeys<A>} page
   */
  constructor(owner, section, page) {
    super();
    this.section = section;
    this.page = page;
    this.keys = keysOf(localStorage.getItem(page.kept), page.first);
    this.#said = this.#part("key-said");
    this.#list(owner);
    for (const pedal of page.pedals) {
      owner.listen(this.#part(`${pedal}-learn`), "click", () => this.#ask(pedal));
      owner.listen(this.#part(`${pedal}-forget`), "click", () => {
        this.#keep({ ...this.keys, [pedal]: null });
      });
    }
    owner.listen(this.#part("keys-first"), "click", () => this.#keep(page.first));
    owner.listen(this.#on, "change", () => this.#keep({ ...this.keys, on: this.#on.checked }));
    owner.listen(section, "toggle", () => this.#leave());
    void this.#askLayout();
    this.#show();
  }

  /** Whether the next press is to be learned, and does nothing else. */
  get learning() {
    return this.#learning !== null;
  }

  /**
   * What stands on a control's key; null where no key acts.
   *
   * @param {A} action
   */
  nameOf(action) {
    return nameOfKey(this.keys.codes[action], this.#layout);
  }

  /** @param {KeyboardEvent} event */
  take(event) {
    const target = this.#learning;
    if (target === null || event.repeat) return;
    if (event.code === "Escape") {
      this.#leave();
      this.#said.textContent = KEYS.left;
      return;
    }
    const { keys, taken } = learn(this.keys, target, event.code);
    if (taken !== null) {
      this.#said.textContent = this.#takenSaid(taken);
      return;
    }
    this.#leave();
    this.#keep(keys);
    const name = nameOfKey(event.code, this.#layout);
    this.#said.textContent = isPedal(target) ? KEYS.pedalLearned(name) : KEYS.learned(name);
  }

  /** @param {import("../core/owner.js").Owner} owner */
  #list(owner) {
    for (const action of actionsOf(this.page.first)) {
      const row = document.createElement("li");
      const what = document.createElement("span");
      what.textContent = this.page.names[action];
      const name = document.createElement("kbd");
      const change = document.createElement("button");
      change.type = "button";
      change.textContent = KEYS.changeWord;
      change.setAttribute("aria-label", KEYS.change(this.page.names[action]));
      owner.listen(change, "click", () => this.#ask(action));
      row.append(what, name, change);
      this.#names.set(action, name);
      this.#part("key-list").append(row);
    }
  }

  /** @param {A | Pedal} target */
  #ask(target) {
    this.#learning = target;
    this.#said.textContent = isPedal(target) ? KEYS.pressPedal : KEYS.press;
  }

  #leave() {
    this.#learning = null;
  }

  /** @param {import("../core/keys.js").Keys<A>} keys */
  #keep(keys) {
    this.keys = keys;
    localStorage.setItem(this.page.kept, kept(keys));
    this.#said.textContent = "";
    this.#show();
  }

  #show() {
    for (const [action, name] of this.#names) name.textContent = this.nameOf(action);
    for (const pedal of this.page.pedals) {
      const code = this.keys[pedal];
      this.#part(`${pedal}-key`).textContent =
        code === null ? KEYS.none : nameOfKey(code, this.#layout);
      this.#part(`${pedal}-forget`).hidden = code === null;
    }
    this.#on.checked = this.keys.on;
    this.dispatchEvent(new Event("change"));
  }

  async #askLayout() {
    const keyboard = /** @type {{keyboard?: {getLayoutMap(): Promise<Map<string, string>>}}} */ (
      /** @type {unknown} */ (navigator)
    ).keyboard;
    this.#layout = (await keyboard?.getLayoutMap().catch(() => null)) ?? null;
    this.#show();
  }

  get #on() {
    return /** @type {HTMLInputElement} */ (this.#part("keys-on"));
  }

  /** @param {A | Pedal | "system"} taken */
  #takenSaid(taken) {
    if (taken === "system") return KEYS.system;
    return KEYS.taken(isPedal(taken) ? KEYS.pedals[taken] : this.page.names[taken]);
  }

  /** @param {string} id */
  #part(id) {
    return /** @type {HTMLElement} */ (this.section.querySelector(`#${id}`));
  }
}

