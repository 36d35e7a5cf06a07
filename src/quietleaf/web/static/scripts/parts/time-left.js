// <time-left>: one large figure, and what it is in print. It draws when it is told, and only what
// has changed; whoever owns it tells it at most twice a second.

import { CLOCK } from "../texts/stand.js";

export class TimeLeft extends HTMLElement {
  /** @type {HTMLElement} */ #minutes = document.createElement("span");
  /** @type {HTMLElement} */ #unit = document.createElement("span");
  /** @type {HTMLElement} */ #seconds = document.createElement("span");
  /** @type {HTMLElement} */ #secondsUnit = document.createElement("span");
  /** @type {HTMLElement} */ #kind = document.createElement("span");
  /** @type {HTMLElement} */ #print = document.createElement("p");

  connectedCallback() {
    if (this.childElementCount > 0) return;
    const figure = document.createElement("p");
    figure.className = "figure";
    this.#minutes.className = "digits";
    this.#unit.className = "unit";
    this.#seconds.className = "digits";
    this.#secondsUnit.className = "unit";
    this.#kind.className = "unit";
    const parts = [this.#minutes, this.#unit, this.#seconds, this.#secondsUnit, this.#kind];
    figure.append(...parts.flatMap((part) => [part, " "]));
    this.#print.className = "in-print";
    this.append(figure, this.#print);
  }

  /**
   * @param {import("../core/pacing.js").Time} left
   * @param {string} kind What it is time for: to read, left.
   * @param {string} inPrint
   */
  show({ over, minutes, seconds }, kind, inPrint) {
    set(this.#minutes, minutes > 0 ? String(minutes) : String(seconds));
    const units = minutes > 0 ? [CLOCK.minute, CLOCK.minutes] : [CLOCK.second, CLOCK.seconds];
    const unit = units[Number((minutes > 0 ? minutes : seconds) !== 1)] ?? "";
    // Whole minutes before anything is read are said without seconds.
    const exact = minutes > 0 && (seconds > 0 || kind === CLOCK.left);
    set(this.#unit, unit);
    set(this.#seconds, exact ? String(seconds).padStart(2, "0") : "");
    set(this.#secondsUnit, exact ? CLOCK[seconds === 1 ? "second" : "seconds"] : "");
    set(this.#kind, over ? CLOCK.over : kind);
    set(this.#print, inPrint);
  }
}

/** @param {HTMLElement} part @param {string} text */
function set(part, text) {
  if (part.textContent !== text) part.textContent = text;
}

customElements.define("time-left", TimeLeft);
