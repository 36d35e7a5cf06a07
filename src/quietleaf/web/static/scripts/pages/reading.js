// The ear page. Without this script its forms and links do all that is needed; with it the place is
// played here, decisions are sent without leaving the page, and each has a key.

import { EAR_KEYS, actionOf, typesCharacter } from "../core/keys.js";
import { clockOf, nextThing } from "../core/places_heard.js";
import { Owner } from "../core/owner.js";
import { compareRepairs } from "../parts/compared-repairs.js";
import { HeardSound } from "../parts/heard-sound.js";
import { KeySettings } from "../parts/key-settings.js";
import { EAR } from "../texts/ear.js";

/** @typedef {import("../core/keys.js").EarAction} EarAction */

/** What is answered anew when something was entered. */
const RENEWED = ["verdict-section", "place-of", "type", "things-section", "outcome"];

class Ear {
  #owner = new Owner();
  /** @type {string | null} the id of the thing that is chosen */ #chosen = null;
  /** @type {Promise<void>} what is being entered, one after another */ #entering = Promise.resolve();

  constructor() {
    const player = /** @type {HTMLAudioElement} */ (byId("player"));
    this.sound = new HeardSound(player, byId("transport"), (words) => tell(words));
    this.sound.follow(byId("type"));
    const section = byId("keys");
    section.hidden = false;
    this.keys = new KeySettings(this.#owner, section, {
      kept: "quietleaf:ear-keys",
      first: EAR_KEYS,
      names: EAR.names,
      pedals: [],
    });
    this.#owner.listen(this.keys, "change", () => this.#nameKeys());
    this.#owner.listen(document, "keydown", (event) => this.#press(event));
    this.#owner.listen(document, "click", (event) => this.#click(event));
    this.#owner.listen(document, "submit", (event) => this.#submit(event));
    const compared = document.getElementById("compared");
    if (compared !== null) compareRepairs(compared, player);
    this.#nameKeys();
    const named = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (named?.classList.contains("thing")) this.#choose(named);
  }

  /** @param {KeyboardEvent} event */
  #press(event) {
    if (this.keys.learning) {
      event.preventDefault();
      this.keys.take(event);
      return;
    }
    const focused = document.activeElement;
    if (event.code === "Escape" && focused instanceof HTMLTextAreaElement) {
      // From a remark back to its thing, where the keys act.
      /** @type {HTMLElement | null} */ (focused.closest(".thing"))?.focus();
      return;
    }
    const action = actionOf(this.keys.keys, event, focusOf(focused));
    if (action === null || (event.repeat && action !== "back" && action !== "on")) return;
    event.preventDefault();
    this.#do(action);
  }

  /** @param {EarAction} action */
  #do(action) {
    switch (action) {
      case "main":
        return this.sound.toggle();
      case "back":
        return this.sound.back();
      case "on":
        return this.sound.on();
      case "slower":
        return this.sound.changeSpeed(-1);
      case "faster":
        return this.sound.changeSpeed(1);
      case "next":
      case "previous":
        return this.#step(action === "next" ? 1 : -1);
      case "hear":
        return this.#hear(this.#thing() ?? this.#things()[0] ?? null);
      case "mark":
        return this.#mark();
      case "remark":
        return this.#remark();
      case "hearCut":
        return this.#hearCut();
      case "undo":
        return this.#after(() => press(document.querySelector("#desk [data-action=undo]")));
      default:
        return this.#after(() => this.#decide(action));
    }
  }

  /** Things to hear first; notes and what was cut out count once one of them is chosen. */
  #things() {
    const list = this.#thing()?.closest("ol") ?? document.getElementById("to-hear");
    return list === null ? [] : /** @type {HTMLElement[]} */ ([...list.children]);
  }

  #thing() {
    return this.#chosen === null ? null : document.getElementById(this.#chosen);
  }

  /** @param {1 | -1} step */
  #step(step) {
    const things = this.#things();
    // Whoever comes back to a reading begins with what is not decided yet.
    const open = this.#chosen === null ? things.find(isOpen) : undefined;
    const next = open ?? nextThing(things, this.#thing(), step) ?? things[0] ?? null;
    if (next === null) tell(EAR.noNext);
    else this.#hear(next);
  }

  /** @param {HTMLElement | null} thing */
  #hear(thing) {
    if (thing === null) {
      tell(EAR.noNext);
      return;
    }
    this.#choose(thing);
    thing.focus({ preventScroll: true });
    this.sound.playFrom(Number(thing.dataset.from), Number(thing.dataset.to));
  }

  #hearCut() {
    const link = this.#thing()?.querySelector("a[data-action=hearCut]");
    if (link instanceof HTMLAnchorElement) void this.sound.playClip(link.href);
    else tell(EAR.notThis);
  }

  /** @param {HTMLElement} thing */
  #choose(thing) {
    this.#chosen = thing.id;
    this.#showChosen();
    const folded = thing.closest("details:not([open])");
    if (folded instanceof HTMLDetailsElement) folded.open = true;
    const [ink] = this.sound.inkOf(Number(thing.dataset.at), Number(thing.dataset.until));
    // Where both do not fit beside each other, the thing is what is worked with.
    ink?.closest("svg")?.scrollIntoView({ block: "nearest" });
    thing.scrollIntoView({ block: "nearest" });
  }

  #showChosen() {
    for (const other of document.querySelectorAll(".chosen")) {
      other.classList.remove("chosen");
      other.removeAttribute("aria-current");
    }
    const thing = this.#thing();
    if (thing === null) return;
    thing.classList.add("chosen");
    thing.setAttribute("aria-current", "true");
    const [atS, untilS] = [Number(thing.dataset.at), Number(thing.dataset.until)];
    for (const ink of this.sound.inkOf(atS, untilS)) ink.classList.add("chosen");
    const marks = document.querySelectorAll(`[data-of="${CSS.escape(thing.id)}"]`);
    for (const mark of marks) mark.classList.add("chosen");
  }

  /** @param {EarAction} action */
  #decide(action) {
    const thing = this.#thing();
    const button = thing?.querySelector(`.decide [data-action=${action}]`) ?? null;
    if (button === null) tell(EAR.notThis);
    return press(button);
  }

  #remark() {
    const thing = this.#thing();
    const remark = thing?.querySelector("details.remark");
    if (!(remark instanceof HTMLDetailsElement)) return;
    const otherwise = remark.closest("details.otherwise");
    if (otherwise instanceof HTMLDetailsElement) otherwise.open = true;
    remark.open = true;
    this.sound.hush();
    remark.querySelector("textarea")?.focus();
  }

  #mark() {
    const own = document.getElementById("own");
    if (!(own instanceof HTMLDetailsElement)) return;
    this.sound.hush();
    own.open = true;
    const at = /** @type {HTMLInputElement} */ (byId("own-at"));
    at.value = clockOf(this.sound.placeS);
    byId("own-what").focus();
  }

  /** @param {MouseEvent} event */
  #click(event) {
    if (event.ctrlKey || event.metaKey || event.shiftKey || event.defaultPrevented) return;
    const target = /** @type {Element} */ (event.target);
    const ink = target.closest(".run");
    if (ink !== null) this.sound.playFrom(Number(ink.getAttribute("data-start")));
    const mark = target.closest("[data-of]")?.getAttribute("data-of");
    if (mark) this.#hear(document.getElementById(mark));
    const link = target.closest("a[data-play-s], a[data-action]");
    if (!(link instanceof HTMLAnchorElement)) return;
    event.preventDefault();
    if (link.dataset.playS !== undefined) this.sound.playFrom(Number(link.dataset.playS));
    else if (link.dataset.action === "hear") this.#hear(link.closest(".thing"));
    else {
      const thing = /** @type {HTMLElement | null} */ (link.closest(".thing"));
      if (thing !== null) this.#choose(thing);
      void this.sound.playClip(link.href);
    }
  }

  /** @param {SubmitEvent} event */
  #submit(event) {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (form.closest("#desk") === null || form.dataset.leaves !== undefined) return;
    event.preventDefault();
    this.#after(() => this.#send(form, event.submitter));
  }

  /** Do something when what was asked for before is done. @param {() => unknown} step */
  #after(step) {
    this.#entering = this.#entering
      .then(async () => {
        await step();
      })
      .catch((fault) => reportError(fault));
  }

  /** @param {HTMLFormElement} form @param {HTMLElement | null} submitter */
  async #send(form, submitter) {
    // What was sent before has put another form in its place.
    if (!form.isConnected) return;
    const thing = /** @type {HTMLElement | null} */ (form.closest(".thing"));
    const wasOpen = thing?.hasAttribute("data-open") ?? false;
    /** @type {Document} */
    let answered;
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body: new URLSearchParams(/** @type {any} */ (new FormData(form, submitter))),
      });
      if (new URL(answer.url).pathname === "/sign-in") {
        location.assign(answer.url);
        return;
      }
      answered = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (answered.getElementById("things-section") === null) throw new Error("another page");
    } catch {
      tell(EAR.away);
      return;
    }
    if (thing !== null) this.#chosen = thing.id;
    const isAnother = this.sound.becomes(answered.getElementById("player"));
    this.#renew(answered);
    const refusal = document.getElementById("refusal");
    if (refusal !== null) {
      refusal.scrollIntoView({ block: "nearest" });
      this.#thing()?.focus({ preventScroll: true });
    } else if (isAnother) {
      tell(EAR.another);
      this.#thing()?.focus({ preventScroll: true });
    } else if (wasOpen) this.#goOn(thing?.id ?? "");
    else this.#stay(form.closest("#outcome") !== null);
  }

  /** @param {Document} answered */
  #renew(answered) {
    const open = [...document.querySelectorAll("#desk > * details[id][open]")].map(({ id }) => id);
    for (const id of RENEWED) {
      const [old, fresh] = [document.getElementById(id), answered.getElementById(id)];
      if (old !== null && fresh !== null) old.replaceWith(document.adoptNode(fresh));
      else old?.remove();
    }
    for (const id of open) {
      const details = document.getElementById(id);
      if (details instanceof HTMLDetailsElement && id !== "own") details.open = true;
    }
    this.sound.follow(byId("type"));
    this.#nameKeys();
    this.#showChosen();
  }

  /** Something was decided: to the next that is not, or to the end of it. @param {string} id */
  #goOn(id) {
    const decided = document.getElementById(id)?.querySelector("strong")?.textContent ?? "";
    const things = this.#things();
    const next = nextThing(things, this.#thing(), 1, isOpen);
    if (next !== null) {
      const left = things.filter(isOpen).length;
      tell(`${decided}. ${EAR.left(left)}`);
      this.#hear(next);
      return;
    }
    this.sound.hush();
    const elsewhere = document.getElementById("elsewhere");
    tell(`${decided}. ${elsewhere === null ? EAR.allDecided : EAR.allHere}`);
    const sent = document.querySelector("#return.main");
    const finish = document.getElementById("finish");
    const end = elsewhere ?? sent ?? finish ?? document.getElementById("clear");
    if (end instanceof HTMLElement) end.focus();
  }

  /** @param {boolean} isOutcome */
  #stay(isOutcome) {
    const verdict = document.getElementById("verdict")?.textContent?.trim() ?? "";
    tell(isOutcome ? verdict : (document.getElementById("count")?.textContent ?? ""));
    const stays = isOutcome ? document.querySelector("#go-on, #clear") : this.#thing();
    if (stays instanceof HTMLElement) stays.focus({ preventScroll: true });
  }

  #nameKeys() {
    const { codes, on } = this.keys.keys;
    for (const key of document.querySelectorAll("[data-key-of]")) {
      const action = /** @type {EarAction} */ (key.getAttribute("data-key-of"));
      key.textContent = this.keys.nameOf(action);
      key.toggleAttribute("hidden", !on && typesCharacter(codes[action]));
    }
    const isStepped = on || !typesCharacter(codes.next) || !typesCharacter(codes.previous);
    document.getElementById("steps")?.toggleAttribute("hidden", !isStepped);
  }
}

/** Nobody decided about it yet. @param {Element} thing */
function isOpen(thing) {
  return thing.hasAttribute("data-open");
}

/** @param {Element | null} focused */
function focusOf(focused) {
  if (focused === null || focused === document.body) return "page";
  if (focused.id === "play") return "main";
  // Its choices are figures: no letter is typed there, and it keeps the focus once it was used.
  if (focused.id === "speed") return "control";
  if (focused instanceof HTMLInputElement && focused.type === "checkbox") return "control";
  if (focused.matches("input, textarea, select")) return "field";
  return focused.matches("a, button, summary, audio") ? "control" : "page";
}

/** @param {Element | null} button */
function press(button) {
  if (!(button instanceof HTMLButtonElement)) return undefined;
  return button.form?.requestSubmit(button);
}

/** @param {string} words */
function tell(words) {
  byId("told").textContent = words;
}

/** @param {string} id */
function byId(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

new Ear();
