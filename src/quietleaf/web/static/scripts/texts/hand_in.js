// The sentences that the pages of handing in, of the receipt and of practice make by themselves.

/**
 * Say how much has still to be sent from this computer.
 * @param {number} behindS
 * @returns {string}
 */
export function behind(behindS) {
  return `About ${length(behindS)} are still on their way from this computer. Leave this page open.`;
}

/**
 * @param {number} lengthS
 * @returns {string}
 */
export function length(lengthS) {
  const whole = Math.max(1, Math.round(lengthS));
  if (whole < 60) return `${whole} ${whole === 1 ? "second" : "seconds"}`;
  return `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")}`;
}

export const WAIT = "Not yet: hand in when the station has all of it. You need not do anything for that.";
export const ALL_THERE = "The station has all of your reading.";
export const AWAY =
  "The station is not answering just now. Everything is kept here; this page tries again by itself.";
