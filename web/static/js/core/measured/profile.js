// @ts-check
/** The profile over x: mean, least and greatest radius, the band of two sigma, the readings. Pure. */
import { axisMarks, createAxes, lineThrough, readingMarks } from './axes.js';
import { unitName } from '../units.js';

/** The limits of the radius axis: from the axis of rotation, unless the skin stays far from it. @param {import('./skin.js').MeasuredSkin} skin @returns {[number, number]} mm */
export function radiusRange({ least, most, mean, doubt, readings }) {
  let [low, high] = [Infinity, -Infinity];
  for (let i = 0; i < mean.length; i += 1) {
    low = Math.min(low, least[i], mean[i] - 2 * doubt[i]);
    high = Math.max(high, most[i], mean[i] + 2 * doubt[i]);
  }
  const bound = [low - (high - low), high + (high - low)]; // a wild reading may not press the skin flat
  for (const r of readings.radius) if (r > bound[0] && r < bound[1]) [low, high] = [Math.min(low, r), Math.max(high, r)];
  const margin = Math.max(0.02, (high - low) * 0.06);
  return [low < high / 2 ? 0 : low - margin, high + margin];
}

/** @param {import('./skin.js').MeasuredSkin} skin @param {number} width @param {number} height px */
export const profileAxes = (skin, width, height) => createAxes(width, height, [skin.x[0], skin.x[skin.m - 1]], radiusRange(skin));

/**
 * @param {import('./skin.js').MeasuredSkin} skin @param {import('./axes.js').Axes} axes @param {'mm'|'inch'} unit
 * @returns {import('./axes.js').Mark[]}
 */
export function profileMarks(skin, axes, unit) {
  const xs = Array.from(skin.x, axes.px);
  const line = (/** @type {ArrayLike<number>} */ r) => lineThrough(xs, Array.from(r, axes.py));
  const upper = skin.mean.map((r, i) => r + 2 * skin.doubt[i]);
  const lower = skin.mean.map((r, i) => r - 2 * skin.doubt[i]);
  const band = `${line(upper)}${lineThrough([...xs].reverse(), Array.from(lower, axes.py).reverse()).replace('M', 'L')}Z`;
  const { readings } = skin;
  return [
    ...axisMarks(axes, { xTitle: `station x, ${unitName(unit)}`, yTitle: `radius, ${unitName(unit)}`, unit }),
    ['path', { class: 'band', d: band }],
    ['path', { class: 'edge-line', d: line(skin.least) }], ['path', { class: 'edge-line', d: line(skin.most) }],
    ...readingMarks(readings, (k) => {
      const py = axes.py(readings.radius[k]);
      return py < axes.box.top || py > axes.box.bottom ? null : [axes.px(readings.x[k]), py];
    }),
    ['path', { class: 'mean-line', d: line(skin.mean) }],
  ];
}
