// What somebody who practises does next, and which words stand before them. Pure.

import { GUIDE } from "../texts/stand.js";

/**
 * @param {import("./standing.js").Standing} standing
 * @param {number} pages How many pages there are to read.
 * @returns {{sentence: string, words: string | null}} `words` names what stands there.
 */
export function guided(standing, pages) {
  const { phase, reading, next, articles, turned } = standing;
  const rolling = phase === "rolling";
  if (phase !== "held" && !rolling) return { sentence: "", words: null };
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
  const page = Math.min(pages - 1, turned ? articles : articles - 1);
  const last = page === pages - 1;
  const words = `page-${page}`;
  if (rolling) {
    if (turned && page > articles - 1) return { sentence: GUIDE.mark, words };
    return { sentence: last ? GUIDE.lastPage : GUIDE.page, words };
  }
  if (next === "article") return { sentence: GUIDE.readOn, words };
  return articles >= pages
    ? { sentence: GUIDE.closingSoon, words: "closing" }
    : { sentence: GUIDE.turn, words };
}
