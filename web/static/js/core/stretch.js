// @ts-check
/**
 * How a piece of art is stretched: at each node of its grid the plan sends Tissot's ellipse, what becomes of a small
 * circle of the sheet on the skin. A node where no skin is laid on has none (its figures are 0).
 * @typedef {{ greatest: Float32Array, least: Float32Array, turn: Float32Array }} Ellipses mm on the skin for a mm on the sheet, by [u][v]; `turn`: where the long axis points, rad from +θ
 */

/** The part of a grid's ellipses that is known. @param {Ellipses} told @returns {{ least: number, greatest: number } | null} null where nothing is laid */
export function extremesOf({ greatest, least }) {
  let [low, high] = [Infinity, 0];
  for (let k = 0; k < greatest.length; k += 1) {
    if (greatest[k] <= 0) continue;
    low = Math.min(low, least[k]);
    high = Math.max(high, greatest[k]);
  }
  return high > 0 ? { least: low, greatest: high } : null;
}

/**
 * The mean stretch of one cell, from its four nodes.
 * @param {Ellipses} told @param {number} wide nodes along v @param {number} i @param {number} j @returns {{ least: number, greatest: number } | null}
 */
export function cellStretch({ greatest, least }, wide, i, j) {
  const nodes = [i * wide + j, i * wide + j + 1, (i + 1) * wide + j, (i + 1) * wide + j + 1];
  if (nodes.some((k) => greatest[k] <= 0)) return null;
  const mean = (/** @type {Float32Array} */ f) => nodes.reduce((sum, k) => sum + f[k], 0) / 4;
  return { least: mean(least), greatest: mean(greatest) };
}

/** The nodes at which ellipses are drawn: every `step`-th, as even about the middle as they come. @param {number} count @param {number} step @returns {number[]} */
export function everyNode(count, step) {
  const first = Math.floor(((count - 1) % step) / 2);
  return Array.from({ length: Math.floor((count - 1 - first) / step) + 1 }, (_, k) => first + k * step);
}

/** What the legend says. @param {{ least: number, greatest: number }[]} parts @returns {string} */
export function stretchWords(parts) {
  if (!parts.length) return '';
  const low = Math.min(...parts.map((part) => part.least));
  const high = Math.max(...parts.map((part) => part.greatest));
  return Math.max(high - 1, 1 - low) < 0.0005 ? '1 mm of the sheet is 1 mm on the skin' : `1 mm of the sheet is ${low.toFixed(3)} to ${high.toFixed(3)} mm on the skin`;
}
