// The microphone: the one that was chosen, as it is, or a trouble with a code; never another one.
//
// The choice is kept in this browser, which is this booth. Sentences to each code: texts/room.js.

import { TROUBLES } from "../texts/room.js";

/** @typedef {"left" | "right"} Side */

/**
 * @typedef {object} Microphone
 * @property {string} deviceId
 * @property {string} label
 * @property {Side} [side] the channel that it was heard on in the room check
 */

/**
 * `insecure`: the address lets no page hear; `unsupported`: nor does the browser; `refused`: the
 * person or the browser's settings said no; `none`: no microphone is plugged in; `not-there`: not
 * the one that was chosen; `busy`: it cannot be opened; `altered`: the browser would change what it
 * hears; `gone`: it went away; `muted`: it gives nothing, by a switch or the system.
 * @typedef {"insecure" | "unsupported" | "refused" | "none" | "not-there" | "busy" | "altered" |
 *   "gone" | "muted"} TroubleCode
 */

const KEPT = "quietleaf:microphone";
const LOOK_MS = 1000;
/** Names that stand for whichever microphone the system likes best: that is no choice. */
const STAND_INS = new Set(["default", "communications"]);
/** @type {Record<string, TroubleCode>} */
const CODES = {
  NotAllowedError: "refused",
  SecurityError: "refused",
  NotFoundError: "none",
  NotSupportedError: "unsupported",
  OverconstrainedError: "not-there",
};

export class MicrophoneTrouble extends Error {
  /** @param {TroubleCode} code */
  constructor(code) {
    super(TROUBLES[code]);
    this.code = code;
  }
}

/** @returns {MediaDevices} */
function devices() {
  if (!window.isSecureContext) throw new MicrophoneTrouble("insecure");
  if (!navigator.mediaDevices?.getUserMedia) throw new MicrophoneTrouble("unsupported");
  return navigator.mediaDevices;
}

/**
 * The microphones of this computer. Their names and ids are empty until one was allowed once.
 * @returns {Promise<Microphone[]>}
 */
export async function listMicrophones() {
  const found = await devices().enumerateDevices();
  return found
    .filter(({ kind, deviceId }) => kind === "audioinput" && !STAND_INS.has(deviceId))
    .map(({ deviceId, label }) => ({ deviceId, label }));
}

/**
 * Opens a microphone: the one that was chosen in this browser, unless another is named; where none
 * was ever chosen, the one that the browser offers first.
 * @param {Microphone | null} chosen
 * @returns {Promise<{track: MediaStreamTrack, stream: MediaStream, settings: MediaTrackSettings,
 *   side: Side}>}
 * @throws {MicrophoneTrouble} its message is the sentence
 */
export async function openMicrophone(chosen = keptMicrophone()) {
  const media = devices();
  /** @type {MediaTrackConstraints} */
  const wanted = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  /** @type {MediaStream} */
  let stream;
  let id = chosen?.deviceId;
  try {
    if (chosen) {
      id = (await findAgain(media, chosen)).deviceId;
      wanted.deviceId = { exact: id };
    }
    stream = await media.getUserMedia({ audio: wanted });
  } catch (reason) {
    if (reason instanceof MicrophoneTrouble) throw reason;
    throw new MicrophoneTrouble(CODES[/** @type {DOMException} */ (reason).name] ?? "busy");
  }
  const track = /** @type {MediaStreamTrack} */ (stream.getAudioTracks()[0]);
  const settings = track.getSettings();
  // What was asked for is no proof of what was given.
  const altered =
    settings.echoCancellation !== false ||
    settings.noiseSuppression !== false ||
    settings.autoGainControl !== false;
  const other = chosen !== null && settings.deviceId !== id;
  if (altered || other) {
    track.stop();
    throw new MicrophoneTrouble(altered ? "altered" : "not-there");
  }
  return { track, stream, settings, side: chosen?.side ?? "left" };
}

/**
 * Finds the chosen microphone, also where the browser has given new ids since: then by its whole
 * name. Names are shown only to a page that may hear; for them one microphone is opened and closed
 * again, and nothing of it is kept.
 * @param {MediaDevices} media
 * @param {Microphone} chosen
 * @returns {Promise<Microphone>}
 */
async function findAgain(media, chosen) {
  let there = await listMicrophones();
  if (there.every(({ label }) => label === "")) {
    const asked = await media.getUserMedia({ audio: true });
    for (const track of asked.getTracks()) track.stop();
    there = await listMicrophones();
  }
  const found = sameMicrophone(chosen, there);
  if (!found) throw new MicrophoneTrouble("not-there");
  return found;
}

/**
 * Tells when the microphone went away (`gone`), or is silenced by a switch (`muted`), once each
 * time. Some systems move a track to another microphone without a word: the list is looked at
 * each second.
 * @param {MediaStreamTrack} track
 * @param {string} deviceId
 * @param {(code: "gone" | "muted") => void} onGone
 * @returns {() => void} stops watching
 */
export function watchMicrophone(track, deviceId, onGone) {
  let watching = true;
  const gone = () => {
    if (!watching) return;
    stop();
    onGone("gone");
  };
  const muted = () => onGone("muted");
  const look = async () => {
    const there = await navigator.mediaDevices.enumerateDevices();
    const inputs = there.filter(({ kind }) => kind === "audioinput");
    if (!inputs.some((device) => device.deviceId === deviceId)) gone();
  };
  const timer = setInterval(() => void look().catch(gone), LOOK_MS);
  track.addEventListener("ended", gone);
  track.addEventListener("mute", muted);

  function stop() {
    watching = false;
    clearInterval(timer);
    track.removeEventListener("ended", gone);
    track.removeEventListener("mute", muted);
  }
  if (track.readyState === "ended") queueMicrotask(gone);
  else if (track.muted) queueMicrotask(muted);
  return stop;
}

/**
 * The microphone that was chosen in this browser.
 * @returns {Microphone | null}
 */
export function keptMicrophone() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT) ?? "null");
    if (typeof kept?.deviceId !== "string" || kept.deviceId === "") return null;
    const { deviceId, label } = kept;
    return { deviceId, label: String(label ?? ""), side: kept.side === "right" ? "right" : "left" };
  } catch {
    return null;
  }
}

/** @param {Microphone | null} chosen null forgets it */
export function keepMicrophone(chosen) {
  if (chosen) localStorage.setItem(KEPT, JSON.stringify(chosen));
  else localStorage.removeItem(KEPT);
}

/**
 * Finds the kept microphone again: by its id, or where the browser gave new ids by its whole name,
 * if just one has it.
 * @param {Microphone} kept
 * @param {Microphone[]} there
 * @returns {Microphone | null}
 */
export function sameMicrophone(kept, there) {
  const byId = there.find(({ deviceId }) => deviceId === kept.deviceId);
  if (byId) return byId;
  const named = there.filter(({ label }) => label !== "" && label === kept.label);
  return named.length === 1 ? /** @type {Microphone} */ (named[0]) : null;
}
