// @ts-check
/** How measured lengths are told: to the micrometre, since a measurement is judged by its last digits. */
import { unitName } from '../units.js';

/** @typedef {'mm'|'inch'} Unit */

const MM_PER_INCH = 25.4;

/** @param {number} mm @param {Unit} unit @returns {number} in the unit shown */
export const shownIn = (mm, unit) => (unit === 'inch' ? mm / MM_PER_INCH : mm);

/** @param {number} mm @param {Unit} unit @param {number} [digits] of mm; an inch gets one more @returns {string} without its unit */
export function fine(mm, unit, digits = 3) {
  const text = shownIn(mm, unit).toFixed(unit === 'inch' ? digits + 1 : digits);
  return (Number(text) === 0 ? text.replace('-', '') : text).replace('-', '\u2212');
}

/** @param {number} mm @param {Unit} unit @param {number} [digits] @returns {string} */
export const fineWords = (mm, unit, digits = 3) => `${fine(mm, unit, digits)} ${unitName(unit)}`;

/** @param {number} mm @param {Unit} unit @returns {string} with its sign */
export const signed = (mm, unit) => (mm >= 0 ? `+${fine(mm, unit)}` : fine(mm, unit));

/** @param {number} deg @returns {string} in (−180, 180] */
export function degreeWords(deg) {
  const turned = ((deg % 360) + 360) % 360;
  return `${String(Math.round((turned > 180 ? turned - 360 : turned) * 10) / 10).replace('-', '\u2212')}°`;
}

/** Pieces of what a finding says as sentences, each with its capital and its stop. @param {...(string|undefined|null)} parts @returns {string} */
export const sentences = (...parts) => parts.map((one) => (one ?? '').trim()).filter(Boolean).map((one) => `${one[0].toUpperCase()}${one.slice(1)}${/[.?!]$/.test(one) ? '' : '.'}`).join(' ');
