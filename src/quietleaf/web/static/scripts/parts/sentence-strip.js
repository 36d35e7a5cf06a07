// <sentence-strip>: the last half minute set like lines of type, a stretch of speech as a run of ink.
// What is set stays where it is; only the newest run grows, and full lines move up. While held each
// run is a button that plays it; while a lead-in plays, one that it leads to instead. What has left
// the programme is struck out. Its text twin says the same.

import { STRIP } from "../texts/stand.js";

export const LINE_S = 20;
const LINES = 2;

/** @typedef {import("../core/live.js").Run} Run */
/** @typedef {{line: number, startS: number, stopS: number, run: Run}} Piece */

export class SentenceStrip extends HTMLElement {
  /** @type {HTMLElement} */ #twin = document.createElement("p");
  /** @type {HTMLElement} */ #page = document.createElement("div");
  /** @type {HTMLElement[]} */ #lines = [];
  /** @type {WeakMap<Element, Run>} */ #runs = new WeakMap();
  /** @type {"" | "hear" | "again"} what picking a run does */ #open = "";

  connectedCallback() {
    if (this.childElementCount > 0) return;
    this.#twin.className = "unseen";
    this.#twin.textContent = STRIP.nothing;
    this.#page.className = "lines";
    this.#page.setAttribute("aria-hidden", "true");
    for (let line = 0; line < LINES; line += 1) {
      const ruled = document.createElement("div");
      ruled.className = "line";
      this.#lines.push(ruled);
    }
    this.#page.append(...this.#lines);
    this.append(this.#twin, this.#page);
    this.#page.addEventListener("click", (event) => this.#pick(event));
    this.#page.addEventListener("keydown", (event) => this.#walk(event));
  }

  /**
   * @param {readonly Run[]} runs In order.
   * @param {number} nowS On the clock of the runs.
   * @param {Pick<import("../core/standing.js").Standing, "phase" | "leading">} standing Held, runs
   *   can be picked to hear them, while a lead-in plays to read from there; rolling, one grows.
   * @param {readonly {startS: number, stopS: number}[]} outside What has left the programme.
   */
  show(runs, nowS, { phase, leading }, outside = []) {
    const open = phase === "held" ? "hear" : leading === null ? "" : "again";
    const pieces = piecesOf(runs, nowS);
    const growing = phase === "rolling" && runs.at(-1)?.stopS === null;
    if (open !== this.#open) this.#change(open);
    for (const [index, line] of this.#lines.entries()) {
      const here = pieces.filter((piece) => piece.line === index);
      while (line.childElementCount > here.length) line.lastElementChild?.remove();
      for (const [at, piece] of here.entries()) {
        const last = growing && piece.run === runs.at(-1);
        const ink = this.#set(line, at, piece, last, nowS);
        ink.classList.toggle("out", isOut(piece.run, nowS, outside));
      }
    }
    const shown = new Set(pieces.map((piece) => piece.run));
    const out = [...shown].filter((run) => isOut(run, nowS, outside)).length;
    const twin = shown.size === 0 ? STRIP.nothing : STRIP.twin(shown.size, growing, out);
    if (this.#twin.textContent !== twin) this.#twin.textContent = twin;
    if (open !== "") this.#reachOne();
  }

  /** The run that has the focus, if one has. @returns {Run | null} */
  get focused() {
    const focused = document.activeElement;
    return focused === null ? null : (this.#runs.get(focused) ?? null);
  }

  /** @param {"" | "hear" | "again"} open */
  #change(open) {
    this.#open = open;
    const hadFocus = this.contains(document.activeElement);
    for (const line of this.#lines) line.replaceChildren();
    if (hadFocus) this.dispatchEvent(new Event("left"));
    if (open !== "") {
      this.#page.removeAttribute("aria-hidden");
      this.#page.setAttribute("role", "group");
      this.#page.setAttribute("aria-label", STRIP.name);
    } else {
      this.#page.setAttribute("aria-hidden", "true");
      this.#page.removeAttribute("role");
      this.#page.removeAttribute("aria-label");
    }
  }

  /**
   * @param {HTMLElement} line @param {number} at @param {Piece} piece
   * @param {boolean} growing @param {number} nowS
   * @returns {HTMLElement}
   */
  #set(line, at, piece, growing, nowS) {
    let ink = /** @type {HTMLElement | undefined} */ (line.children[at]);
    if (ink === undefined) {
      ink = document.createElement(this.#open === "" ? "span" : "button");
      if (ink instanceof HTMLButtonElement) {
        ink.type = "button";
        ink.tabIndex = -1;
      }
      line.append(ink);
    }
    this.#runs.set(ink, piece.run);
    ink.classList.add("run");
    ink.classList.toggle("growing", growing);
    style(ink, "left", `${((100 * piece.startS) / LINE_S).toFixed(2)}%`);
    style(ink, "width", `${((100 * (piece.stopS - piece.startS)) / LINE_S).toFixed(2)}%`);
    if (this.#open !== "") {
      const { startS, stopS } = piece.run;
      const say = this.#open === "again" ? STRIP.again : STRIP.block;
      const name = say(nowS - startS, Math.max(1, (stopS ?? nowS) - startS));
      if (ink.getAttribute("aria-label") !== name) ink.setAttribute("aria-label", name);
    }
    return ink;
  }

  /** One run can be reached by Tab, the last one first; arrows lead to the others. */
  #reachOne() {
    const buttons = this.#buttons();
    const chosen = buttons.find((button) => button.tabIndex === 0) ?? buttons.at(-1);
    if (chosen !== undefined) chosen.tabIndex = 0;
  }

  /** @returns {HTMLButtonElement[]} */
  #buttons() {
    return [...this.#page.querySelectorAll("button")];
  }

  /** @param {KeyboardEvent} event */
  #walk(event) {
    const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -1, ArrowDown: 1 };
    const step = steps[/** @type {"ArrowLeft"} */ (event.key)];
    const buttons = this.#buttons();
    const here = buttons.findIndex((button) => button === event.target);
    if (step === undefined || here < 0) return;
    event.preventDefault();
    const there = buttons[Math.min(buttons.length - 1, Math.max(0, here + step))];
    for (const button of buttons) button.tabIndex = button === there ? 0 : -1;
    there?.focus();
  }

  /** @param {Event} event */
  #pick(event) {
    const ink = /** @type {Element} */ (event.target).closest("button");
    const run = ink === null ? undefined : this.#runs.get(ink);
    if (run !== undefined) this.dispatchEvent(new CustomEvent("pick", { detail: run }));
  }
}

/**
 * The runs as they fall on the lines; one that does not fit goes on in the next line.
 *
 * @param {readonly Run[]} runs
 * @param {number} nowS
 * @returns {Piece[]}
 */
export function piecesOf(runs, nowS) {
  // The present line is the last one; before it is full for the first time, the first.
  const present = Math.floor(nowS / LINE_S);
  const first = Math.max(0, present - LINES + 1);
  /** @type {Piece[]} */
  const pieces = [];
  for (const run of runs) {
    const stopS = run.stopS ?? nowS;
    for (let line = Math.max(first, Math.floor(run.startS / LINE_S)); line <= present; line += 1) {
      const fromS = Math.max(run.startS, line * LINE_S);
      const toS = Math.min(stopS, (line + 1) * LINE_S);
      if (toS <= fromS) continue;
      pieces.push({
        line: line - first,
        startS: fromS - line * LINE_S,
        stopS: toS - line * LINE_S,
        run,
      });
    }
  }
  return pieces;
}

/**
 * Whether most of a run has left the programme.
 *
 * @param {Run} run
 * @param {number} nowS
 * @param {readonly {startS: number, stopS: number}[]} outside
 */
function isOut({ startS, stopS }, nowS, outside) {
  const endS = stopS ?? nowS;
  const outS = outside.reduce(
    (sum, range) =>
      sum + Math.max(0, Math.min(endS, range.stopS) - Math.max(startS, range.startS)),
    0,
  );
  return outS > (endS - startS) / 2;
}

/** @param {HTMLElement} ink @param {"left" | "width"} name @param {string} value */
function style(ink, name, value) {
  if (ink.style[name] !== value) ink.style[name] = value;
}

customElements.define("sentence-strip", SentenceStrip);
