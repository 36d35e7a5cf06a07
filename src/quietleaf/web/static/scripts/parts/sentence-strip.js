// <sentence-strip>: the last half minute set like lines of type, a stretch of speech as a run of ink.
// What is set stays where it is; only the newest run grows, and full lines move up. A run is a
// button: while held it plays it, while rolling it is read again from there. What has left the
// programme is struck out, and a rule stands where the programme goes on. Its text twin says so.

import { isLeftOut } from "../core/programme.js";
import { STRIP } from "../texts/stand.js";

export const LINE_S = 20;
const LINES = 2;

/** @typedef {import("../core/live.js").Run} Run */
/** @typedef {import("../core/programme.js").Stretch} Stretch */
/** @typedef {{line: number, startS: number, stopS: number, run: Run, isFirst: boolean}} Piece */
/** @typedef {{ruled: HTMLElement, inks: Map<string, HTMLElement>}} Line */

export class SentenceStrip extends HTMLElement {
  /** @type {HTMLElement} */ #twin = document.createElement("p");
  /** @type {HTMLElement} */ #page = document.createElement("div");
  /** @type {Line[]} */ #lines = [];
  /** Which line of all that were set is the first one here. */ #first = 0;
  /** @type {WeakMap<Element, Run>} */ #runs = new WeakMap();
  /** @type {"" | "hear" | "again"} what picking a run does */ #open = "";

  connectedCallback() {
    if (this.childElementCount > 0) return;
    this.#twin.className = "unseen";
    this.#twin.textContent = STRIP.nothing;
    this.#page.className = "lines";
    this.#page.setAttribute("aria-hidden", "true");
    for (let line = 0; line < LINES; line += 1) this.#addLine();
    this.append(this.#twin, this.#page);
    this.#page.addEventListener("click", (event) => this.#pick(event));
    this.#page.addEventListener("keydown", (event) => this.#walk(event));
  }

  /**
   * @param {readonly Run[]} runs In order.
   * @param {number} nowS On the clock of the runs.
   * @param {Pick<import("../core/standing.js").Standing, "phase">} standing Held, runs can be
   *   picked to hear them, rolling to read from there; one grows.
   * @param {readonly Stretch[]} outside What has left the programme.
   */
  show(runs, nowS, { phase }, outside = []) {
    const hadFocus = this.focused !== null;
    const open = phase === "held" ? "hear" : phase === "rolling" ? "again" : "";
    if (open !== this.#open) this.#change(open);
    const pieces = piecesOf(runs, nowS);
    const growing = phase === "rolling" && runs.at(-1)?.stopS === null;
    const became = new Map(runs.map((run, at) => [run, becameOf(runs, at, nowS, outside)]));
    this.#turnTo(firstLine(nowS));
    for (const [index, line] of this.#lines.entries()) {
      const here = pieces.filter((piece) => piece.line === index);
      const keys = new Set(here.map(({ run }) => keyOf(run)));
      for (const [key, ink] of line.inks) {
        if (keys.has(key)) continue;
        ink.remove();
        line.inks.delete(key);
      }
      for (const piece of here) {
        const ink = this.#ink(line, piece);
        this.#set(ink, piece, nowS, became.get(piece.run) ?? "");
        ink.classList.toggle("growing", growing && piece.run === runs.at(-1));
      }
      setJoins(line.ruled, (firstLine(nowS) + index) * LINE_S, joinsOf(runs, nowS, outside));
    }
    const shown = new Set(pieces.map((piece) => piece.run));
    const out = [...shown].filter((run) => became.get(run) === "left out").length;
    const twin = shown.size === 0 ? STRIP.nothing : STRIP.twin(shown.size, growing, out);
    if (this.#twin.textContent !== twin) this.#twin.textContent = twin;
    if (open !== "") this.#reachOne();
    // What had the focus has moved up and away.
    if (hadFocus && this.focused === null) this.#leave();
  }

  /** The run that has the focus, if one has. @returns {Run | null} */
  get focused() {
    const focused = document.activeElement;
    return focused === null ? null : (this.#runs.get(focused) ?? null);
  }

  #leave() {
    this.dispatchEvent(new Event("left"));
  }

  /** @param {"" | "hear" | "again"} open */
  #change(open) {
    // Whoever goes on by key finds the main control there, whatever a run did before.
    if (this.focused !== null) this.#leave();
    if (open === "" || this.#open === "") this.#turnTo(this.#first + LINES);
    this.#open = open;
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

  /** @param {number} first */
  #turnTo(first) {
    // Back is another reading, or lines that are set anew: nothing of these stays.
    const lines = first < this.#first ? LINES : Math.min(LINES, first - this.#first);
    for (let line = 0; line < lines; line += 1) {
      this.#lines.shift()?.ruled.remove();
      this.#addLine();
    }
    this.#first = first;
  }

  #addLine() {
    const ruled = document.createElement("div");
    ruled.className = "line";
    this.#lines.push({ ruled, inks: new Map() });
    this.#page.append(ruled);
  }

  /**
   * The ink of a piece. Where a run goes on in a second line only its beginning is a button.
   *
   * @param {Line} line
   * @param {Piece} piece
   * @returns {HTMLElement}
   */
  #ink({ ruled, inks }, { run, isFirst }) {
    const key = keyOf(run);
    const kind = this.#open !== "" && isFirst ? "button" : "span";
    const before = inks.get(key);
    if (before?.localName === kind) return before;
    const ink = document.createElement(kind);
    if (ink instanceof HTMLButtonElement) {
      ink.type = "button";
      ink.tabIndex = -1;
    }
    ink.classList.add("run");
    if (before === undefined) ruled.append(ink);
    else before.replaceWith(ink);
    inks.set(key, ink);
    return ink;
  }

  /**
   * @param {HTMLElement} ink @param {Piece} piece
   * @param {number} nowS @param {"" | "left out" | "read again"} became
   */
  #set(ink, { run, startS, stopS }, nowS, became) {
    this.#runs.set(ink, run);
    ink.classList.toggle("out", became === "left out");
    style(ink, "left", `${((100 * startS) / LINE_S).toFixed(2)}%`);
    style(ink, "width", `${((100 * (stopS - startS)) / LINE_S).toFixed(2)}%`);
    // What has the focus was named as it got it: told anew every second it could not be listened to.
    if (this.#open === "" || ink.localName === "span" || ink === document.activeElement) return;
    const lengthS = Math.max(1, (run.stopS ?? nowS) - run.startS);
    const name = STRIP[this.#open](STRIP.block(nowS - run.startS, lengthS, became));
    if (ink.getAttribute("aria-label") !== name) ink.setAttribute("aria-label", name);
  }

  /** One run can be reached by Tab, the last one first; arrows lead to the others. */
  #reachOne() {
    const buttons = this.#buttons();
    const chosen = buttons.find((button) => button === document.activeElement) ?? buttons.at(-1);
    for (const button of buttons) button.tabIndex = button === chosen ? 0 : -1;
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
    buttons[Math.min(buttons.length - 1, Math.max(0, here + step))]?.focus();
    this.#reachOne();
  }

  /** @param {Event} event */
  #pick(event) {
    if (this.#open === "") return;
    const ink = /** @type {Element} */ (event.target).closest(".run");
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
  const first = firstLine(nowS);
  /** @type {Piece[]} */
  const pieces = [];
  for (const run of runs) {
    const stopS = run.stopS ?? nowS;
    let isFirst = true;
    for (let line = first; line < first + LINES; line += 1) {
      const fromS = Math.max(run.startS, line * LINE_S);
      const toS = Math.min(stopS, (line + 1) * LINE_S);
      if (toS <= fromS) continue;
      const [startS, endS] = [fromS - line * LINE_S, toS - line * LINE_S];
      pieces.push({ line: line - first, startS, stopS: endS, run, isFirst });
      isFirst = false;
    }
  }
  return pieces;
}

/**
 * The present line is the last one; before it is full for the first time, the first.
 *
 * @param {number} nowS
 */
function firstLine(nowS) {
  return Math.max(0, Math.floor(nowS / LINE_S) - LINES + 1);
}

/** @param {Run} run */
function keyOf({ take, startSample }) {
  return `${take}:${startSample}`;
}

/**
 * What became of a run through what was taken again.
 *
 * @param {readonly Run[]} runs
 * @param {number} at
 * @param {number} nowS
 * @param {readonly Stretch[]} outside
 * @returns {"" | "left out" | "read again"}
 */
function becameOf(runs, at, nowS, outside) {
  const isOut = (/** @type {number} */ index) => {
    const run = runs[index];
    if (run === undefined) return false;
    return isLeftOut({ startS: run.startS, stopS: run.stopS ?? nowS }, outside);
  };
  if (isOut(at)) return "left out";
  return isOut(at - 1) ? "read again" : "";
}

/**
 * Where the programme goes on after something that was left out.
 *
 * @param {readonly Run[]} runs
 * @param {number} nowS
 * @param {readonly Stretch[]} outside
 */
function joinsOf(runs, nowS, outside) {
  const spoken = outside.filter(
    (stretch) =>
      stretch.stopS < nowS &&
      runs.some(({ startS, stopS }) => isLeftOut({ startS, stopS: stopS ?? nowS }, [stretch])),
  );
  return [...new Set(spoken.map(({ stopS }) => stopS))];
}

/**
 * @param {HTMLElement} ruled
 * @param {number} lineS
 * @param {readonly number[]} joins
 */
function setJoins(ruled, lineS, joins) {
  const here = joins.filter((joinS) => joinS >= lineS && joinS < lineS + LINE_S);
  const drawn = [...ruled.querySelectorAll(".join")];
  for (const rule of drawn.slice(here.length)) rule.remove();
  for (const [index, joinS] of here.entries()) {
    const rule = /** @type {HTMLElement} */ (drawn[index] ?? document.createElement("span"));
    rule.className = "join";
    style(rule, "left", `${((100 * (joinS - lineS)) / LINE_S).toFixed(2)}%`);
    if (rule.parentElement === null) ruled.append(rule);
  }
}

/** @param {HTMLElement} ink @param {"left" | "width"} name @param {string} value */
function style(ink, name, value) {
  if (ink.style[name] !== value) ink.style[name] = value;
}

customElements.define("sentence-strip", SentenceStrip);
