// @ts-check
/** What each plot shows, as a short table in words: for those who do not see it, and for copying. Pure. */
import { degreeWords, fine, fineWords, signed } from './words.js';
import { histogramOf } from './residuals.js';
import { fieldOf, nearestAngle, nearestStation, spreadOf } from './skin.js';
import { unitName } from '../units.js';

/** @typedef {{ caption: string, head: string[], rows: string[][] }} Table */
/** @typedef {import('./skin.js').MeasuredSkin} MeasuredSkin */

/** @param {MeasuredSkin} skin @param {number} most @returns {number[]} indices of stations, evenly from end to end */
const some = ({ m }, most) => [...new Set(Array.from({ length: Math.min(m, most) }, (_, k) => Math.round((k * (m - 1)) / Math.max(1, Math.min(m, most) - 1))))];

/** @param {MeasuredSkin} skin @param {'mm'|'inch'} unit @returns {Table} */
export const profileTable = (skin, unit) => ({
  caption: `Profile, ${unitName(unit)}`, head: ['x', 'mean radius', 'least', 'greatest', '± 2σ', 'runout', 'towards'],
  rows: some(skin, 9).map((i) => [fine(skin.x[i], unit, 2), ...[skin.mean[i], skin.least[i], skin.most[i], 2 * skin.doubt[i], skin.runout[i]].map((mm) => fine(mm, unit)), degreeWords(skin.runoutDeg[i])]),
});

const EIGHTHS = [-180, -135, -90, -45, 0, 45, 90, 135];

/** @param {MeasuredSkin} skin @param {'deviation'|'radius'|'sigma'} kind @param {'mm'|'inch'} unit @returns {Table} in brackets: not seen there */
export function mapTable(skin, kind, unit) {
  const field = fieldOf(skin, kind);
  const tell = (/** @type {number} */ mm) => (kind === 'deviation' ? signed(mm, unit) : fine(mm, unit));
  return {
    caption: `${{ deviation: 'Radius minus the round profile', radius: 'Radius', sigma: 'One standard deviation of the radius' }[kind]}, ${unitName(unit)}; in brackets where it was not seen`,
    head: ['x', ...EIGHTHS.map(degreeWords)],
    rows: some(skin, 7).map((i) => [fine(skin.x[i], unit, 2), ...EIGHTHS.map((deg) => {
      const k = i * skin.n + nearestAngle(skin, deg);
      return skin.known[k] ? tell(field[k]) : `(${tell(field[k])})`;
    })]),
  };
}

/** @param {MeasuredSkin} skin @param {readonly number[]} stations mm @param {'mm'|'inch'} unit @returns {Table} */
export function sectionTable(skin, stations, unit) {
  const rows = stations.map((x) => nearestStation(skin, x));
  return {
    caption: `Radius of the sections, ${unitName(unit)}`, head: ['angle', ...rows.map((i) => `x ${fine(skin.x[i], unit, 2)}`)],
    rows: [...EIGHTHS.map((deg) => [degreeWords(deg), ...rows.map((i) => fine(skin.radius[i * skin.n + nearestAngle(skin, deg)], unit))]),
      ['runout', ...rows.map((i) => `${fine(skin.runout[i], unit)} towards ${degreeWords(skin.runoutDeg[i])}`)]],
  };
}

/** @param {MeasuredSkin} skin @param {'mm'|'inch'} unit @returns {Table} */
export function residualTable({ readings }, unit) {
  const { used, left, filled, rms, worst } = spreadOf(readings);
  const rows = [['readings used', String(used)], ['left out', String(left)], ['filled in', String(filled)], ['root mean square', fineWords(rms, unit)]];
  if (worst) rows.push(['farthest of the used', `${signed(worst.residual, unit)} ${unitName(unit)} at x ${fine(worst.x, unit, 2)}, ${degreeWords(worst.deg)}`]);
  return { caption: 'Reading minus skin', head: ['what', 'value'], rows };
}

/** @param {MeasuredSkin} skin @param {'mm'|'inch'} unit @returns {Table} bins that hold readings */
export function histogramTable({ readings }, unit) {
  const { counts, reach } = histogramOf(readings);
  const wide = (2 * reach) / counts.length;
  const rows = counts.map((count, k) => [signed(-reach + k * wide, unit), signed(-reach + (k + 1) * wide, unit), String(count)]);
  return { caption: `How many readings lie how far from the skin, ${unitName(unit)}`, head: ['from', 'to', 'readings'], rows: rows.filter(([, , count]) => count !== '0') };
}
