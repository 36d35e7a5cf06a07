// Every word that the room check's script shows or says; another language is another module.

/** @typedef {import("../audio/microphone.js").TroubleCode} TroubleCode */

/**
 * What is wrong with the microphone, and the way out.
 * @type {Record<TroubleCode, string>}
 */
export const TROUBLES = {
  insecure:
    "Browsers let a page hear only over a secure address, and this one is not. Open the stand at the address that begins with https://, or on the station’s own computer at http://127.0.0.1. If you do not know the address, ask the desk.",
  unsupported:
    "This browser cannot record. Open the stand in a present Chromium-based browser (on a computer, not a telephone), or ask the desk.",
  refused:
    "The browser does not let this page hear. Press the sign left of the address at the top of the window, choose to allow the microphone, then press “Try again”. If there is no such choice, allow it in the computer’s own settings, under privacy.",
  none: "No microphone is plugged into this computer. Plug one in, then press “Try again”.",
  "not-there":
    "The microphone that was chosen for this booth is not there. Look at its plug and its switch and press “Try again”, or choose another one. No other is taken without asking.",
  busy: "The microphone is there and cannot be opened. Another program may be holding it: close that program, or pull the plug and put it in again, then press “Try again”.",
  altered:
    "The browser would change what this microphone hears (echo, noise or level), and a reading is kept as it was spoken. Switch such changes off in the computer’s sound settings, or choose another microphone.",
  gone: "The microphone went away. Put its plug in again, then press “Try again”.",
  muted:
    "The microphone is switched off. Look for a switch on it, or a key on the keyboard with a microphone on it, then press “Try again”.",
};

export const STATION_AWAY =
  "The station is not answering. Press “Try again”, or go on without a room check.";

export const GO_ON = "Go on to the reading";
/** Where something is found that should be put right. */
export const GO_ON_AS_IT_IS = "Read with it as it is";

/** @param {number} seconds 1 to 5 */
export function secondsLeft(seconds) {
  const words = ["", "One second", "Two seconds", "Three seconds", "Four seconds", "Five seconds"];
  return `${words[seconds] ?? seconds} more.`;
}

/**
 * @param {Date} at
 * @param {string} microphone
 */
export function lastTime(at, microphone) {
  const day = at.toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" });
  return microphone === "" ? `Last time, on ${day}:` : `Last time, on ${day}, with ${microphone}:`;
}

/**
 * What goes with the reading where the check before is relied on.
 * @param {string} at ISO
 * @param {string} sentence
 */
export function asBefore(at, sentence) {
  return `${at}: ${sentence}`;
}
