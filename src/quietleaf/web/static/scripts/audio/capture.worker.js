// Owns everything between the microphone and the station: what a page does, or does not, can touch
// none of it. Messages: ../messages.js.

import { LITTLE_ROOM, NO_SOUND } from "../texts/recorder.js";
import { Sending } from "./sending.js";
import { readPort, readTrack } from "./source.js";
import { Taking } from "./taking.js";

/** @typedef {import("../messages.js").ToWorker} ToWorker */
/** @typedef {import("../messages.js").FromWorker} FromWorker */

const TICK_MS = 250;
const TICKS_A_FLUSH = 4;
const TICKS_A_LOOK = 240;
const FIRST_SOUND_MS = 10_000;
/** An hour of 24-bit mono at 48 kHz, and some. */
const LITTLE_BYTES = 600_000_000;

/** @type {Sending | null} */
let sending = null;
/** @type {import("./source.js").Source | null} */
let source = null;
let origin = "";
let toldStanding = "";
let ticks = 0;
let isRoomTold = false;
/** @type {(() => void)[]} */
let waiting = [];

const taking = new Taking(() => sending?.journal ?? null, tell);

/**
 * @param {FromWorker} message
 * @param {Transferable[]} handedOver
 */
function tell(message, handedOver = []) {
  self.postMessage(message, { transfer: handedOver });
}

function tellStanding() {
  if (sending === null) return;
  const detail = sending.standing();
  const told = JSON.stringify(detail);
  if (told === toldStanding) return;
  toldStanding = told;
  tell({ kind: "standing", detail });
}

let toldStation = "";
function stationChanged() {
  // What moves on its own is told four times a second; a change of state at once.
  const station = sending?.standing().station ?? "";
  if (station === toldStation) return;
  toldStation = station;
  tellStanding();
}

/** The take ends here, whoever asked. */
function stopRolling() {
  if (!taking.isRolling) return;
  taking.breakOff();
  sending?.wake();
  const { takeSamples, readingSamples } = taking;
  tell({ kind: "stopped", takeSamples, readingSamples });
}

function tick() {
  ticks += 1;
  sending?.wake();
  if (ticks % TICKS_A_FLUSH === 0) sending?.flush();
  if (ticks % TICKS_A_LOOK === 0) void lookForRoom();
  tellStanding();
}

async function lookForRoom() {
  // Where the browser tells nothing of it, there is nothing to say.
  const unknown = /** @type {StorageEstimate} */ ({});
  const { quota = Infinity, usage = 0 } = await navigator.storage.estimate().catch(() => unknown);
  const isLittle = quota - usage < LITTLE_BYTES || sending?.journal?.isWhole === false;
  if (isLittle && !isRoomTold) tell({ kind: "little-room", sentence: LITTLE_ROOM });
  isRoomTold = isLittle;
}

/** @param {import("./source.js").SourceBlock} block */
function hear(block) {
  taking.hear(block, performance.now(), Date.now());
  for (const wake of waiting.splice(0)) wake();
}

/** @param {Extract<ToWorker, {kind: "listen" | "listen-fallback"}>} asked */
async function listen(asked) {
  source?.stop();
  taking.begin(asked.side, [origin, asked.origin].filter((part) => part !== "").join(", "));
  const first = new Promise((done, failed) => {
    waiting = [() => done(undefined)];
    setTimeout(() => failed(new Error(NO_SOUND)), FIRST_SOUND_MS);
  });
  source =
    asked.kind === "listen"
      ? readTrack(asked.readable, hear, () => {
          stopRolling();
          tell({ kind: "ended" });
        })
      : readPort(asked.port, asked.rate, hear);
  await first;
  const { rate, sides, side } = taking;
  return { rate, sides, side };
}

/**
 * @param {ToWorker} asked
 * @returns {Promise<unknown>}
 */
async function answer(asked) {
  switch (asked.kind) {
    case "open":
      origin = asked.origin;
      taking.leadInS = asked.leadInS;
      sending = new Sending(asked, stationChanged, stopRolling);
      await sending.open(asked.pass);
      setInterval(tick, TICK_MS);
      self.addEventListener("online", () => sending?.hurry());
      void lookForRoom();
      return {};
    case "listen":
    case "listen-fallback":
      return listen(asked);
    case "roll": {
      const refusal = sending?.refusal ?? "";
      if (refusal !== "") throw new Error(refusal);
      return { take: taking.roll() };
    }
    case "hold": {
      const samples = asked.broken ? taking.breakOff() : taking.hold();
      sending?.wake();
      return { samples };
    }
    case "article":
      taking.mark({ what: "article", title: asked.title });
      return {};
    case "words":
      taking.mark({ what: "words", which: asked.which });
      return {};
    case "again": {
      const refusal = sending?.refusal ?? "";
      if (refusal !== "") throw new Error(refusal);
      return taking.again(asked.at);
    }
    case "read-again-for":
      taking.readAgainFor(asked.readFor, asked.beforeS);
      sending?.wake();
      return {};
    case "again-led":
      taking.led();
      return {};
    case "again-undo":
      return { undone: taking.undo() };
    case "recent":
      return { samples: taking.recent(asked.place), rate: taking.rate };
    case "take-over":
      stopRolling();
      await sending?.takeOver(asked.pass);
      return {};
    case "close":
      source?.stop();
      taking.breakOff();
      await sending?.close();
      return {};
  }
}

self.onmessage = async (/** @type {MessageEvent<ToWorker>} */ { data: asked }) => {
  const { id } = asked;
  try {
    tell({ kind: "done", id, answer: await answer(asked) });
  } catch (fault) {
    tell({ kind: "failed", id, sentence: fault instanceof Error ? fault.message : String(fault) });
  }
  tellStanding();
};
