// What the page of handing in can tell without a page: drafts, and whether all has been sent.

const SENT_S = 0.05;
/** Less than this is what every page is behind while it is in time. */

/**
 * Give the name under which what was typed is kept until it is handed in.
 * @param {string} place
 * @returns {string}
 */
export function draftName(place) {
  return `hand-in ${place}`;
}

/**
 * Write down what was typed; empty where there is nothing.
 * @param {Iterable<[string, string]>} fields names and values
 * @returns {string}
 */
export function draftOf(fields) {
  const typed = [...fields].filter(([, value]) => value !== "");
  return typed.length > 0 ? JSON.stringify(typed) : "";
}

/**
 * Read a draft back; what is no draft holds nothing.
 * @param {string | null} draft
 * @returns {[string, string][]}
 */
export function fieldsOf(draft) {
  try {
    const read = JSON.parse(draft ?? "[]");
    if (!Array.isArray(read)) return [];
    return read.filter(
      (pair) =>
        Array.isArray(pair) && pair.length === 2 && pair.every((part) => typeof part === "string"),
    );
  } catch {
    return [];
  }
}

/**
 * Give what is still to be sent, in seconds; 0 where all has been.
 * @param {unknown} behindS what the recorder says
 * @returns {number}
 */
export function unsentS(behindS) {
  return typeof behindS === "number" && behindS > SENT_S ? behindS : 0;
}
