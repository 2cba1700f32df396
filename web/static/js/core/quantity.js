// @ts-check
/**
 * The kinds of number that a form holds: how each is shown and read in the unit asked for. Values are those of the job
 * document (mm, degrees, mm/min); inches are only a way of showing and typing.
 */
import { formatAngle, formatLength, parseAngle, parseLength, unitName } from './units.js';

/** @typedef {'mm'|'inch'} Unit */
/** @typedef {{ ok: true, value: number } | { ok: false, why: string }} Read */

const MM_PER_INCH = 25.4;

/** @param {number} value @param {number} digits @returns {string} without needless noughts */
const short = (value, digits) => String(Number(value.toFixed(digits))).replace('-', '\u2212');

/** @param {string} text @param {boolean} whole @returns {Read} */
function plain(text, whole) {
  const source = text.trim().replace(/[\u2212\u2013]/g, '-');
  if (source.includes(',')) return { ok: false, why: 'A comma can mean two things. Write a point, or nothing.' };
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(source)) return { ok: false, why: 'Write a number.' };
  const value = Number(source);
  return whole && !Number.isInteger(value) ? { ok: false, why: 'Write a whole number.' } : { ok: true, value };
}

/** @param {Read} read @param {number} by @returns {Read} */
const scaled = (read, by) => (read.ok ? { ok: true, value: read.value * by } : read);

export const QUANTITIES = Object.freeze({
  length: {
    show: (/** @type {number} */ mm, /** @type {Unit} */ unit) => (unit === 'inch' ? formatLength(mm * 1000, unit) : short(mm, 3)),
    read: (/** @type {string} */ text, /** @type {Unit} */ unit) => scaled(/** @type {Read} */ (parseLength(text, unit)), 0.001),
    unit: (/** @type {Unit} */ unit) => unitName(unit), step: 0.1,
  },
  angle: {
    show: (/** @type {number} */ deg) => short(deg, 3),
    read: (/** @type {string} */ text) => scaled(/** @type {Read} */ (parseAngle(text)), 0.001),
    unit: () => '°', step: 0.1,
  },
  rate: {
    show: (/** @type {number} */ value, /** @type {Unit} */ unit) => short(unit === 'inch' ? value / MM_PER_INCH : value, unit === 'inch' ? 3 : 2),
    read: (/** @type {string} */ text, /** @type {Unit} */ unit) => scaled(plain(text, false), unit === 'inch' ? MM_PER_INCH : 1),
    unit: (/** @type {Unit} */ unit) => (unit === 'inch' ? 'in/min' : 'mm/min'), step: 10,
  },
  plain: { show: (/** @type {number} */ value) => short(value, 4), read: (/** @type {string} */ text) => plain(text, false), unit: () => '', step: 0.1 },
  whole: { show: (/** @type {number} */ value) => String(value), read: (/** @type {string} */ text) => plain(text, true), unit: () => '', step: 1 },
});

/** @param {number} mm3 @param {Unit} unit @returns {string} with its unit, for reading only */
export const volumeWords = (mm3, unit) => (unit === 'inch' ? `${(mm3 / MM_PER_INCH ** 3).toPrecision(3)} in³` : `${mm3.toPrecision(3)} mm³`);

/** @param {number} mm @param {Unit} unit @returns {string} with its unit, for reading only */
export const lengthWords = (mm, unit) => `${formatLength(mm * 1000, unit)} ${unitName(unit)}`;

/** @param {number} deg @returns {string} */
export const angleWords = (deg) => `${formatAngle(deg * 1000)}°`;
