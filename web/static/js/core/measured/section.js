// @ts-check
/**
 * Sections across the axis, seen from the far end (+x towards the eye): 0°, the side of the tool, is up and angles run
 * anticlockwise. What departs from a section's mean circle can be exaggerated; the runout is an arrow. Pure.
 */
import { at, lineThrough, readingMarks } from './axes.js';
import { fineWords } from './words.js';
import { lengthWords } from '../quantity.js';
import { nearestStation } from './skin.js';

const RAD = Math.PI / 180;

/** The greatest exaggeration that still leaves a section around its centre. @param {import('./skin.js').MeasuredSkin} skin */
export function mostTimes({ mean, least, m }) {
  let share = 0.005;
  for (let i = 0; i < m; i += 1) share = Math.max(share, 1 - least[i] / mean[i]);
  return Math.max(1, Math.min(100, Math.floor(0.7 / share)));
}

/**
 * @param {import('./skin.js').MeasuredSkin} skin @param {readonly number[]} stations x of each, mm, at most three
 * @param {{ size: number, times: number, unit: 'mm'|'inch' }} how size of the square in px, and the exaggeration
 * @returns {import('./axes.js').Mark[]}
 */
export function sectionMarks(skin, stations, { size, times, unit }) {
  const rows = stations.map((x) => nearestStation(skin, x));
  const reach = Math.max(...rows.map((i) => skin.mean[i] + times * (skin.most[i] - skin.mean[i])), 1e-6);
  const scale = (size / 2 - 36) / reach; // the angles stand around it
  const c = size / 2;
  /** @type {(r: number, deg: number) => [number, number]} */
  const place = (r, deg) => [c - Math.max(0, r) * scale * Math.sin(deg * RAD), c - Math.max(0, r) * scale * Math.cos(deg * RAD)];
  /** @type {import('./axes.js').Mark[]} */
  const marks = [['line', { class: 'grid', x1: 14, x2: size - 14, y1: c, y2: c }], ['line', { class: 'grid', x1: c, x2: c, y1: 14, y2: size - 14 }]];
  for (const [deg, words] of /** @type {[number, string][]} */ ([[0, '0°'], [90, '90°'], [180, '180°'], [-90, '\u221290°']])) {
    const [x, y] = [c - (c - 9) * Math.sin(deg * RAD), c - (c - 9) * Math.cos(deg * RAD)];
    const side = deg === 90 ? { class: 'tick-start', x: 3 } : deg === -90 ? { class: 'tick-end', x: size - 3 } : { class: 'tick-x', x: at(x) };
    marks.push(['text', { ...side, y: at(y + 4) }, words]);
  }
  rows.forEach((i, order) => {
    const ring = Array.from({ length: skin.n + 1 }, (_, j) => place(skin.mean[i] + times * (skin.radius[i * skin.n + (j % skin.n)] - skin.mean[i]), (j * 360) / skin.n));
    const tip = place(Math.max(skin.runout[i] * times, 0), skin.runoutDeg[i]);
    marks.push(
      ['circle', { class: 'round-line', cx: c, cy: c, r: at(skin.mean[i] * scale) }],
      ['path', { class: `section-line s${order + 1}`, d: `${lineThrough(ring.map(([x]) => x), ring.map(([, y]) => y))}Z` }],
      ...arrow([c, c], tip, `arrow s${order + 1}`),
      ...readingMarks(skin.readings, (k) => (nearestStation(skin, skin.readings.x[k]) === i && Math.abs(skin.readings.x[k] - skin.x[i]) <= halfStep(skin) ? place(skin.mean[i] + times * (skin.readings.radius[k] - skin.mean[i]), skin.readings.deg[k]) : null)));
  });
  return [...marks, ['text', { class: 'note', x: 4, y: size - 4 }, times > 1 ? `departures × ${times}` : 'true to scale'],
    ['title', {}, rows.map((i) => `x ${lengthWords(skin.x[i], unit)}: runout ${fineWords(skin.runout[i], unit)}`).join('; ')]];
}

/** @param {import('./skin.js').MeasuredSkin} skin */
const halfStep = ({ x, m }) => (m < 2 ? 0 : (x[m - 1] - x[0]) / (m - 1) / 2 + 1e-6);

/** @param {[number, number]} from @param {[number, number]} to px @param {string} kind @returns {import('./axes.js').Mark[]} none where there is nothing to point at */
function arrow(from, to, kind) {
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  const long = Math.hypot(dx, dy);
  if (long < 2) return [];
  const [ux, uy] = [dx / long, dy / long];
  const head = Math.min(7, long);
  const back = (/** @type {number} */ side) => `${at(to[0] - ux * head - uy * side * head * 0.5)} ${at(to[1] - uy * head + ux * side * head * 0.5)}`;
  return [['path', { class: kind, d: `M${at(from[0])} ${at(from[1])}L${at(to[0])} ${at(to[1])}M${back(1)}L${at(to[0])} ${at(to[1])}L${back(-1)}` }]];
}
