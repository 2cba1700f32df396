// @ts-check
/** What the skin leaves of the readings: reading minus skin, over x and as a histogram with the normal curve. Pure. */
import { axisMarks, createAxes, lineThrough, readingMarks } from './axes.js';
import { roundUp } from './ramp.js';
import { spreadOf } from './skin.js';
import { unitName } from '../units.js';

const BINS = 25;

/** @param {import('./skin.js').Readings} readings @returns {number} half the width of the residual axis, mm: all used readings lie within */
export function residualReach(readings) {
  const { rms, worst } = spreadOf(readings);
  return roundUp(Math.max(0.001, 3.5 * rms, Math.abs(worst?.residual ?? 0)));
}

/** @param {import('./skin.js').MeasuredSkin} skin @param {number} width @param {number} height px */
export function residualAxes({ x, m, readings }, width, height) {
  const reach = residualReach(readings);
  return createAxes(width, height, [x[0], x[m - 1]], [-reach, reach]);
}

/** @param {import('./skin.js').MeasuredSkin} skin @param {import('./axes.js').Axes} axes @param {'mm'|'inch'} unit @returns {import('./axes.js').Mark[]} readings beyond the axis stand at its edge */
export function residualMarks({ readings }, axes, unit) {
  const { rms } = spreadOf(readings);
  const across = (/** @type {number} */ mm, /** @type {string} */ kind) => /** @type {import('./axes.js').Mark} */ (['line', { class: kind, x1: axes.box.left, x2: axes.box.right, y1: axes.py(mm), y2: axes.py(mm) }]);
  return [
    ...axisMarks(axes, { xTitle: `station x, ${unitName(unit)}`, yTitle: `reading minus skin, ${unitName(unit)}`, unit }),
    across(0, 'nought'), across(2 * rms, 'two-sigma'), across(-2 * rms, 'two-sigma'),
    ...readingMarks(readings, (k) => (readings.state[k] === 'filled' ? null : [axes.px(readings.x[k]), Math.min(axes.box.bottom, Math.max(axes.box.top, axes.py(readings.residual[k])))])),
  ];
}

/** How many used readings fall into each of the bins. @param {import('./skin.js').Readings} readings @returns {{ counts: number[], reach: number }} */
export function histogramOf(readings) {
  const reach = residualReach(readings);
  const counts = Array.from({ length: BINS }, () => 0);
  readings.state.forEach((state, k) => {
    if (state === 'used') counts[Math.min(BINS - 1, Math.max(0, Math.floor(((readings.residual[k] + reach) / (2 * reach)) * BINS)))] += 1;
  });
  return { counts, reach };
}

/** The normal curve of the same spread and number, at an offset. @param {number} mm @param {number} rms @param {number} used @param {number} reach */
export const normalCount = (mm, rms, used, reach) => ((used * 2 * reach) / BINS / (rms * Math.sqrt(2 * Math.PI))) * Math.exp(-0.5 * (mm / rms) ** 2);

/** @param {import('./skin.js').MeasuredSkin} skin @param {{ width: number, height: number, unit: 'mm'|'inch' }} how @returns {import('./axes.js').Mark[]} */
export function histogramMarks({ readings }, { width, height, unit }) {
  const { counts, reach } = histogramOf(readings);
  const { rms, used } = spreadOf(readings);
  const top = Math.max(...counts, rms ? normalCount(0, rms, used, reach) : 0, 1) * 1.08;
  const axes = createAxes(width, height, [-reach, reach], [0, top]);
  const wide = (2 * reach) / BINS;
  const bars = counts.map((count, k) => /** @type {import('./axes.js').Mark} */ (['rect', { class: 'bar', x: axes.px(-reach + k * wide) + 0.5, width: Math.max(0, axes.px(wide) - axes.px(0) - 1), y: axes.py(count), height: axes.box.bottom - axes.py(count) }]));
  const places = Array.from({ length: 81 }, (_, k) => -reach + (k * reach) / 40);
  const curve = rms ? lineThrough(places.map(axes.px), places.map((mm) => axes.py(normalCount(mm, rms, used, reach)))) : '';
  return [...axisMarks(axes, { xTitle: `reading minus skin, ${unitName(unit)}`, yTitle: 'readings', unit, plainY: true }), ...bars, ...(curve ? [/** @type {import('./axes.js').Mark} */ (['path', { class: 'curve', d: curve }])] : [])];
}
