// What this browser still keeps of readings is sent, on a page that records nothing itself.

import { unsentS } from "../core/hand_in.js";

/**
 * Send whatever is left of any reading, until the page is left.
 * @param {string} place of the reading that the page is about
 * @param {(behindS: number) => void} onChange told how much is still on its way, in seconds
 */
export async function sendWhatIsLeft(place, onChange) {
  // Fetched by itself: the page and its form work before it is there.
  const { Recorder } = await import("../audio/recorder.js");
  const recorder = await Recorder.open({ pass: null, place, wire: "/stand/wire", origin: "" });
  recorder.addEventListener("standing", (/** @type {Event} */ event) => {
    onChange(unsentS(/** @type {CustomEvent} */ (event).detail.behindS));
  });
  window.addEventListener("pagehide", () => recorder.close(), { once: true });
}
