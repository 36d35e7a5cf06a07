// <slot-column>: the slot as a ruled column of print that fills from the top, with the place of the
// closing words. A picture for those who would rather look; its sentence says the same.

import { COLUMN } from "../texts/stand.js";

const LINES = 40;

export class SlotColumn extends HTMLElement {
  /** @type {HTMLElement} */ #ink = document.createElement("div");
  /** @type {HTMLElement} */ #closing = document.createElement("div");
  /** @type {HTMLElement} */ #label = document.createElement("div");
  /** @type {HTMLElement} */ #shortest = document.createElement("div");
  /** @type {HTMLElement} */ #twin = document.createElement("p");
  #lines = -1;
  #told = "";

  connectedCallback() {
    if (this.childElementCount > 0) return;
    const column = document.createElement("div");
    column.className = "column";
    column.setAttribute("aria-hidden", "true");
    this.#ink.className = "ink";
    this.#closing.className = "closing-place";
    this.#label.className = "closing-label";
    this.#label.textContent = COLUMN.closing;
    this.#shortest.className = "shortest";
    column.append(this.#ink, this.#closing, this.#shortest, this.#label);
    this.#twin.className = "unseen";
    this.append(column, this.#twin);
  }

  /**
   * @param {number} readS
   * @param {number} longestS
   * @param {{place: number, closingPlace: number, shortestPlace: number}} places From 0 to 1.
   * @param {boolean} hasClosing
   */
  show(readS, longestS, places, hasClosing) {
    // Whole lines, so that it moves seldom: an hour adds one every minute and a half.
    const lines = Math.floor(places.place * LINES);
    if (lines !== this.#lines) {
      this.#lines = lines;
      this.#ink.style.height = `${(100 * lines) / LINES}%`;
    }
    const told = COLUMN.read(readS, longestS);
    if (told !== this.#told) {
      this.#told = told;
      this.#twin.textContent = told;
    }
    this.#closing.hidden = !hasClosing;
    this.#label.hidden = !hasClosing;
    put(this.#closing, places.closingPlace);
    // Above both lines, as they may lie close together.
    put(this.#label, Math.min(places.closingPlace, places.shortestPlace));
    put(this.#shortest, places.shortestPlace);
  }
}

/** @param {HTMLElement} mark @param {number} part */
function put(mark, part) {
  const top = `${(100 * part).toFixed(1)}%`;
  if (mark.style.top !== top) mark.style.top = top;
}

customElements.define("slot-column", SlotColumn);
