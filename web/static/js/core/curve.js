// @ts-check
/**
 * A curve of greys by its points, each as it comes in and as it goes out, 0 to 1: rising from left to right, never
 * falling. Pure.
 * @typedef {[number, number]} Point
 */

/** What greys do where no curve is given. @type {Point[]} */
export const STRAIGHT = [[0, 0], [1, 1]];
const APART = 0.02;

/** @param {number} value @param {number} low @param {number} high */
const within = (value, low, high) => Math.min(high, Math.max(low, value));
const tidy = (/** @type {number} */ value) => Math.round(value * 1000) / 1000;

/** The curve with one point elsewhere, kept between its neighbours. @param {Point[]} points @param {number} k @param {Point} to @returns {Point[]} */
export function movedTo(points, k, [across, up]) {
  const [before, after] = [points[k - 1], points[k + 1]];
  const x = k === 0 || k === points.length - 1 ? points[k][0] : within(across, before[0] + APART, after[0] - APART);
  const next = /** @type {Point} */ ([tidy(x), tidy(within(up, before?.[1] ?? 0, after?.[1] ?? 1))]);
  return points.map((point, i) => (i === k ? next : point));
}

/** The curve with a point more, and which it is; null where there is no room. @param {Point[]} points @param {Point} at @returns {{ points: Point[], k: number }|null} */
export function withPoint(points, [across, up]) {
  const k = points.findIndex(([x]) => x > across);
  if (k < 1 || across - points[k - 1][0] < APART || points[k][0] - across < APART) return null;
  const next = [...points.slice(0, k), /** @type {Point} */ ([across, up]), ...points.slice(k)];
  return { points: movedTo(next, k, [across, up]), k };
}

/** The curve without a point; its ends stay. @param {Point[]} points @param {number} k @returns {Point[]} */
export const without = (points, k) => (k === 0 || k === points.length - 1 ? points : points.filter((_, i) => i !== k));

/** Whether the curve changes nothing. @param {Point[]} points @returns {boolean} */
export const isStraight = (points) => points.every(([x, y]) => x === y) && points[0][0] === 0 && points[points.length - 1][0] === 1;
