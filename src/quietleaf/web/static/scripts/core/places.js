// Places in what was recorded, a take and a sample of it, and ranges between two of them; in the order
// of the programme.

/** @typedef {{take: number, sample: number}} At */
/** @typedef {{from: At, to: At}} Range Half-open. */

/** @param {Range[]} ranges each inside one take */
export function samplesOf(ranges) {
  return ranges.reduce((sum, { from, to }) => sum + to.sample - from.sample, 0);
}

/**
 * Give the last of some ranges.
 * @param {Range[]} ranges each inside one take, in order
 * @param {number} samples how much, at most
 * @returns {Range[]}
 */
export function lastOf(ranges, samples) {
  /** @type {Range[]} */
  const last = [];
  let left = samples;
  for (const { from, to } of ranges.toReversed()) {
    if (left <= 0) break;
    const start = Math.max(from.sample, to.sample - left);
    last.unshift({ from: { take: from.take, sample: start }, to });
    left -= to.sample - start;
  }
  return last;
}

/**
 * Give what is left of a range when what lies between two places goes.
 * @param {Range} range
 * @param {At} back
 * @param {At} resume
 * @returns {Range[]}
 */
export function without(range, back, resume) {
  if (!isBefore(range.from, resume) || !isBefore(back, range.to)) return [range];
  /** @type {Range[]} */
  const left = [];
  if (isBefore(range.from, back)) left.push({ from: range.from, to: back });
  if (isBefore(resume, range.to)) left.push({ from: resume, to: range.to });
  return left;
}

/**
 * @param {At} one
 * @param {At} other
 */
export function isBefore(one, other) {
  return one.take < other.take || (one.take === other.take && one.sample < other.sample);
}
