// The last of what was recorded, and the half second before a press: in memory alone.

/**
 * @typedef {object} Block
 * @property {number} take
 * @property {number} first sample in its take
 * @property {Float32Array} samples
 */

/**
 * @typedef {object} Recent
 * @property {number} most samples that are held
 * @property {number} count samples that it has
 * @property {Block[]} blocks
 */

/**
 * @param {number} most samples that it holds
 * @returns {Recent}
 */
export function startRecent(most) {
  return { most, count: 0, blocks: [] };
}

/**
 * Add a block; what is older than `most` samples goes, block by block. Changed in place.
 * @param {Recent} recent
 * @param {Block} block
 */
export function addRecent(recent, block) {
  recent.blocks.push(block);
  recent.count += block.samples.length;
  while (recent.blocks.length > 1) {
    const oldest = /** @type {Block} */ (recent.blocks[0]).samples.length;
    if (recent.count - oldest < recent.most) return;
    recent.blocks.shift();
    recent.count -= oldest;
  }
}

/** @param {Recent} recent */
export function emptyRecent(recent) {
  recent.blocks = [];
  recent.count = 0;
}

/**
 * Give where the oldest sound that is still there was recorded.
 * @param {Recent} recent
 */
export function oldestOf({ blocks: [oldest] }) {
  return oldest === undefined ? null : { take: oldest.take, sample: oldest.first };
}

/**
 * Give the newest `most` samples in one piece, as they came.
 * @param {Recent} recent
 * @returns {Float32Array<ArrayBuffer>}
 */
export function newestOf(recent) {
  const all = joined(recent.blocks.map(({ samples }) => samples));
  return all.slice(Math.max(0, all.length - recent.most));
}

/**
 * Give what is still there of a part of a take, in one piece.
 * @param {Recent} recent
 * @param {import("../messages.js").Place} place
 * @returns {Float32Array<ArrayBuffer>}
 */
export function recentPart(recent, { takeIndex, start, stop }) {
  return joined(
    recent.blocks
      .filter(
        ({ take, first, samples }) =>
          take === takeIndex && first < stop && first + samples.length > start,
      )
      .map(({ first, samples }) =>
        samples.subarray(Math.max(0, start - first), Math.max(0, stop - first)),
      ),
  );
}

/**
 * @param {readonly Float32Array[]} parts
 * @returns {Float32Array<ArrayBuffer>}
 */
export function joined(parts) {
  const all = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

/**
 * Join pieces that did not follow on each other, with a short fade at each meeting.
 * @param {readonly Float32Array[]} parts
 * @param {number} fade samples
 * @returns {Float32Array<ArrayBuffer>}
 */
export function joinedSoftly(parts, fade) {
  const all = joined(parts);
  let at = 0;
  for (const part of parts.slice(0, -1)) {
    at += part.length;
    for (let away = 0; away < fade; away += 1) {
      const share = (away + 0.5) / fade;
      if (at + away < all.length) all[at + away] = share * /** @type {number} */ (all[at + away]);
      if (at - 1 - away >= 0) all[at - 1 - away] = share * /** @type {number} */ (all[at - 1 - away]);
    }
  }
  return all;
}
