// What somebody who practises does next, and which words stand before them. Pure.

import { GUIDE } from "../texts/stand.js";

/**
 * @param {import("./standing.js").Standing} standing
 * @param {number} pages How many pages there are to read.
 * @returns {{sentence: string, words: string | null}} `words` names what stands there.
 */
export function guided(standing, pages) {
  const { phase, reading, next, articles, turns } = standing;
  const rolling = phase === "rolling";
  if (phase !== "held" && !rolling) return { sentence: "", words: null };
  if (pages === 0) return { sentence: rolling ? GUIDE.tryOutRolling : tryOut(standing), words: null };
  if (reading === "closing") {
    return rolling
      ? { sentence: GUIDE.closing, words: "closing" }
      : { sentence: GUIDE.done, words: null };
  }
  if (next === "closing") return { sentence: GUIDE.closingNext, words: "closing" };
  if (articles === 0) {
    if (!standing.openingRead) return { sentence: GUIDE.begin, words: "opening" };
    if (rolling) return { sentence: GUIDE.opening, words: "opening" };
    return { sentence: next === "article" ? GUIDE.page : GUIDE.markFirst, words: "page-0" };
  }
  const words = `page-${Math.min(pages - 1, turns)}`;
  if (next === "article") return { sentence: GUIDE.readOn, words };
  if (rolling) return { sentence: turns < pages - 1 ? GUIDE.page : GUIDE.lastPage, words };
  return turns < pages
    ? { sentence: GUIDE.turn, words }
    : { sentence: GUIDE.closingSoon, words: "closing" };
}

/** @param {import("./standing.js").Standing} standing */
function tryOut(standing) {
  return standing.readS === 0 ? GUIDE.tryOut : GUIDE.tryOutHeld;
}
