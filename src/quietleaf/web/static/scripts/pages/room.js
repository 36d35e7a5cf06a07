// The room check: one step a screen, one main action a step.

import { Ear } from "../audio/ear.js";
import {
  MicrophoneTrouble,
  keepMicrophone,
  keptMicrophone,
  listMicrophones,
  openMicrophone,
  sameMicrophone,
  watchMicrophone,
} from "../audio/microphone.js";
import { lastCheckOf, packed, testSweep } from "../core/room.js";
import * as texts from "../texts/room.js";

/** @typedef {import("../audio/microphone.js").Microphone} Microphone */
/** @typedef {import("../audio/microphone.js").Side} Side */
/** @typedef {import("../core/room.js").PartName} PartName */
/**
 * @typedef {object} Answer
 * @property {string} overall
 * @property {string} sentence
 * @property {string[]} advice
 * @property {[name: string, words: string, figure: string][]} measures
 * @property {Side} side
 */

const LAST = "quietleaf:room";
const READ_S_MAX = 24;
const STILL_S = 5;
/** The key or mouse that was pressed shall not be in the still seconds. */
const SETTLE_MS = 700;
const PLAYED_MS = 2600;

const part = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const room = part("room");
const select = /** @type {HTMLSelectElement} */ (part("microphone"));
const headphones = /** @type {HTMLInputElement} */ (part("headphones"));

/** @type {Microphone[]} */ let there = [];
/** @type {(() => void)[]} */ let stoppers = [];
/** @type {Record<string, () => void>} what the present step's presses do */ let presses = {};
/** Whatever was begun before this number changed has been given up. */
let round = 0;

/**
 * @param {string} name
 * @param {Record<string, () => void>} [pressed]
 */
function show(name, pressed = {}) {
  presses = pressed;
  for (const section of room.querySelectorAll("[data-step]")) {
    const step = /** @type {HTMLElement} */ (section);
    step.hidden = step.dataset.step !== name;
    if (!step.hidden) step.querySelector("h2")?.focus();
  }
}

function stop() {
  round += 1;
  for (const stopper of stoppers) stopper();
  stoppers = [];
}

/** @param {unknown} fault */
function trouble(fault) {
  stop();
  const known = fault instanceof MicrophoneTrouble;
  const code = known ? fault.code : null;
  part("choose").hidden = !known || there.length < 2;
  part("trouble").textContent = fault instanceof Error ? fault.message : String(fault);
  show("trouble", {
    retry: () => void (code === "not-there" && there.length > 0 ? ready(null) : start(true)),
    choose: () => void ready(null),
  });
}

/** @param {boolean} mayAsk whether the browser may ask for permission now */
async function start(mayAsk) {
  try {
    there = await listMicrophones();
    if (there.length === 0) throw new MicrophoneTrouble("none");
    if (there.some(({ label }) => label === "")) {
      if (!mayAsk) {
        show("allow", { allow: () => void start(true) });
        return;
      }
      const { track } = await openMicrophone(null);
      track.stop();
      there = await listMicrophones();
    }
    const kept = keptMicrophone();
    const same = kept && sameMicrophone(kept, there);
    if (kept && !same) throw new MicrophoneTrouble("not-there");
    await ready(same && { ...same, side: kept?.side ?? "left" });
  } catch (fault) {
    trouble(fault);
  }
}

/** @param {Microphone | null} chosen */
async function ready(chosen) {
  stop();
  const one = there.length === 1;
  select.replaceChildren(
    ...there.map(({ deviceId, label }) => {
      const option = document.createElement("option");
      option.value = deviceId;
      option.textContent = label;
      option.selected = deviceId === chosen?.deviceId;
      return option;
    }),
  );
  part("one-microphone").hidden = !one;
  part("microphone-name").textContent = one ? (there[0]?.label ?? "") : "";
  part("microphones").hidden = one;
  const last = chosen && lastCheckOf(localStorage.getItem(LAST));
  part("last").hidden = !last;
  if (last) {
    part("last-when").textContent = texts.lastTime(new Date(last.at), last.microphone);
    part("last-said").textContent = last.sentence;
    /** @type {HTMLInputElement} */ (part("as-before")).value = texts.asBefore(
      last.at,
      last.sentence,
    );
  }
  show("ready", { begin: () => void check() });
}

/** @returns {Microphone} */
function picked() {
  const found = there.find(({ deviceId }) => deviceId === select.value) ?? there[0];
  if (!found) throw new MicrophoneTrouble("none");
  return { deviceId: found.deviceId, label: found.label };
}

/** @param {number} ms */
const after = (ms) =>
  new Promise((done) => {
    const timer = setTimeout(done, ms);
    stoppers.push(() => clearTimeout(timer));
  });

/**
 * Hears while something is read, until the reader presses or far too much time has passed.
 * @param {"sentence" | "plosives"} step
 */
function read(step) {
  return new Promise((done) => {
    const timer = setTimeout(done, READ_S_MAX * 1000);
    stoppers.push(() => clearTimeout(timer));
    show(step, {
      [step]: () => {
        clearTimeout(timer);
        done(undefined);
      },
    });
  });
}

async function check() {
  stop();
  const now = round;
  try {
    const microphone = picked();
    // Made while the press still counts as the person's wish: else it may stay silent.
    const output = headphones.checked ? new AudioContext() : null;
    if (output) stoppers.push(() => void output.close());
    const { track } = await openMicrophone(microphone);
    stoppers.push(() => track.stop());
    keepMicrophone(microphone);
    const gone = (/** @type {"gone" | "muted"} */ code) => trouble(new MicrophoneTrouble(code));
    stoppers.push(watchMicrophone(track, microphone.deviceId, gone));
    const ear = await Ear.open(track);
    stoppers.push(() => ear.close());
    /** @type {Partial<Record<PartName, Float32Array[]>>} */
    const parts = {};

    await read("sentence");
    if (now !== round) return;
    parts.sentence = ear.heard();
    show("still");
    part("left").textContent = texts.secondsLeft(STILL_S);
    await after(SETTLE_MS);
    ear.begin();
    for (let left = STILL_S; left > 0; left -= 1) {
      part("left").textContent = texts.secondsLeft(left);
      await after(1000);
    }
    if (now !== round) return;
    parts.still = ear.heard();
    if (output) {
      show("playing");
      ear.begin();
      play(output);
      await after(PLAYED_MS);
      parts.played = ear.heard();
    }
    ear.begin();
    await read("plosives");
    if (now !== round) return;
    parts.plosives = ear.heard();
    const { rate } = ear;
    stop();
    if (rate === 0) throw new MicrophoneTrouble("muted");
    await send(packed({ rate, microphone: microphone.label, parts }), microphone);
  } catch (fault) {
    if (now === round || fault instanceof MicrophoneTrouble) trouble(fault);
  }
}

/** @param {AudioContext} output */
function play(output) {
  const sweep = testSweep(output.sampleRate);
  const sound = output.createBuffer(1, sweep.length, output.sampleRate);
  sound.copyToChannel(sweep, 0);
  const source = new AudioBufferSourceNode(output, { buffer: sound });
  source.connect(output.destination);
  source.start(output.currentTime + 0.3);
}

/**
 * @param {ArrayBuffer} body
 * @param {Microphone} microphone
 */
async function send(body, microphone) {
  show("measuring");
  try {
    const answer = await fetch("/stand/room/sound", { method: "POST", body });
    const said = await answer.json();
    if (!answer.ok) throw new Error(said.sentence);
    found(said, microphone);
  } catch (fault) {
    // What the browser says of a station that is away is not for people.
    const away = fault instanceof TypeError || fault instanceof SyntaxError;
    trouble(away ? new Error(texts.STATION_AWAY) : fault);
  }
}

/**
 * @param {Answer} answer
 * @param {Microphone} microphone
 */
function found(answer, microphone) {
  keepMicrophone({ ...microphone, side: answer.side });
  const { sentence } = answer;
  const at = new Date().toISOString();
  if (answer.overall === "not yet") localStorage.removeItem(LAST);
  else localStorage.setItem(LAST, JSON.stringify({ at, sentence, microphone: microphone.label }));
  part("result-title").textContent = sentence;
  const advice = part("advice");
  advice.hidden = answer.advice.length === 0;
  advice.replaceChildren(...answer.advice.map((words) => element("li", words)));
  part("measures").replaceChildren(
    ...answer.measures.map(([name, words, figure]) => {
      const row = element("tr", "");
      const head = element("th", name);
      head.setAttribute("scope", "row");
      row.append(head, element("td", words), element("td", figure));
      return row;
    }),
  );
  part("without").hidden = true;
  // One main action, and first: what stands in the way is mended, then looked at again.
  const [goOn, again] = [part("go-on"), part("again")];
  const isFit = answer.overall !== "not yet";
  goOn.textContent = isFit ? texts.GO_ON : texts.GO_ON_AS_IT_IS;
  goOn.classList.toggle("main", isFit);
  again.classList.toggle("main", !isFit);
  if (isFit) again.before(goOn, " ");
  else again.after(" ", goOn);
  show("result", { again: () => void checkAgain() });
}

function checkAgain() {
  part("without").hidden = false;
  void start(true);
}

/**
 * @param {string} name
 * @param {string} words
 */
function element(name, words) {
  const made = document.createElement(name);
  made.textContent = words;
  return made;
}

room.addEventListener("click", (event) => {
  const pressed = /** @type {HTMLElement} */ (event.target).closest("[data-press]");
  if (pressed) presses[/** @type {HTMLElement} */ (pressed).dataset.press ?? ""]?.();
});
window.addEventListener("pagehide", stop);
void start(false);
