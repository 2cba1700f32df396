// @ts-check
/**
 * How a picture lies on the canvas: `zoom` canvas px a picture px, `left` and `top` of the picture's corner in canvas px.
 * @typedef {[number, number]} Point
 * @typedef {{ zoom: number, left: number, top: number }} Sight
 */

/** The whole picture in the middle. @param {number} w @param {number} h of the picture @param {number} width @param {number} height of the canvas @returns {Sight} */
export function wholeSight(w, h, width, height) {
  const zoom = Math.min(width / w, height / h);
  return { zoom, left: (width - w * zoom) / 2, top: (height - h * zoom) / 2 };
}

/** @param {Sight} sight @param {Point} canvas @returns {Point} in the picture */
export const toPicture = ({ zoom, left, top }, [x, y]) => [(x - left) / zoom, (y - top) / zoom];

/** @param {Sight} sight @param {Point} picture @returns {Point} on the canvas */
export const toCanvas = ({ zoom, left, top }, [x, y]) => [left + x * zoom, top + y * zoom];

/** Nearer or farther about a place of the canvas that stays. @param {Sight} sight @param {Point} at @param {number} by @param {number} least @returns {Sight} */
export function zoomed(sight, at, by, least) {
  const zoom = Math.min(40, Math.max(least, sight.zoom * by));
  const [px, py] = toPicture(sight, at);
  return { zoom, left: at[0] - px * zoom, top: at[1] - py * zoom };
}

/** The sight moved, so that a place of the picture is seen. @param {Sight} sight @param {Point} place @param {number} width @param {number} height @param {number} inset @returns {Sight} */
export function showing(sight, place, width, height, inset) {
  const [x, y] = toCanvas(sight, place);
  const shift = (/** @type {number} */ at, /** @type {number} */ size) => (at < inset ? inset - at : at > size - inset ? size - inset - at : 0);
  return { ...sight, left: sight.left + shift(x, width), top: sight.top + shift(y, height) };
}

/** Index of the point that is nearest, and how far; -1 where there is none. @param {Point[]} points @param {Point} at @returns {[number, number]} */
export function nearest(points, [x, y]) {
  let [best, least] = [-1, Infinity];
  points.forEach(([px, py], i) => { const far = Math.hypot(px - x, py - y); if (far < least) [best, least] = [i, far]; });
  return [best, least];
}

/** A drawn line with fewer corners: those nearer than `step` to the one kept before are left out. @param {Point[]} path @param {number} step @returns {Point[]} */
export function thinned(path, step) {
  /** @type {Point[]} */
  const kept = [];
  for (const point of path) {
    const last = kept.at(-1);
    if (!last || Math.hypot(point[0] - last[0], point[1] - last[1]) >= step) kept.push([round(point[0]), round(point[1])]);
  }
  return kept;
}

/** Hundredths of a pixel are as fine as anything here. @param {number} px */
export const round = (px) => Math.round(px * 100) / 100;

/** @param {Point} point @param {number} w @param {number} h @returns {Point} inside the picture */
export const within = ([x, y], w, h) => [round(Math.min(w, Math.max(0, x))), round(Math.min(h, Math.max(0, y)))];
