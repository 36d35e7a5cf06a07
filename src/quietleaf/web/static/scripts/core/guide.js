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
  if (standing.leading !== null) return { sentence: GUIDE.leading, words: wordsNow(standing, pages) };
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
    return { sentence: next === "article" ? onPage(standing) : GUIDE.markFirst, words: "page-0" };
  }
  const words = pageNow(standing, pages);
  if (next === "article") return { sentence: GUIDE.readOn, words };
  if (rolling && turns < pages - 1) return { sentence: onPage(standing), words };
  if (rolling) return { sentence: GUIDE.lastPage, words };
  return turns < pages
    ? { sentence: GUIDE.turn, words }
    : { sentence: GUIDE.closingSoon, words: "closing" };
}

/** @param {import("./standing.js").Standing} standing */
function onPage({ agains, canUndo }) {
  if (agains === 0) return GUIDE.slip;
  return canUndo ? GUIDE.afterAgain : GUIDE.page;
}

/**
 * Which words are read now, whatever is to be done with them.
 *
 * @param {import("./standing.js").Standing} standing
 * @param {number} pages
 */
function wordsNow(standing, pages) {
  if (pages === 0) return null;
  if (standing.reading !== null) return standing.reading;
  return standing.articles === 0 ? "opening" : pageNow(standing, pages);
}

/** @param {import("./standing.js").Standing} standing @param {number} pages */
function pageNow({ turns }, pages) {
  return `page-${Math.min(pages - 1, turns)}`;
}

/** @param {import("./standing.js").Standing} standing */
function tryOut(standing) {
  return standing.readS === 0 ? GUIDE.tryOut : GUIDE.tryOutHeld;
}
