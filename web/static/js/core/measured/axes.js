// @ts-check
/**
 * Two axes and their drawing. A drawing is a list of marks `[tag, attributes, ...children]` in SVG's own terms, which a
 * view turns into nodes; nothing here knows the page.
 * @typedef {[string, Record<string, string|number>, ...any[]]} Mark
 * @typedef {{ left: number, top: number, right: number, bottom: number }} Box px
 * @typedef {{ box: Box, px: (x: number) => number, py: (y: number) => number, xAt: (px: number) => number, yAt: (py: number) => number, x: [number, number], y: [number, number] }} Axes
 */
import { shownIn } from './words.js';

export const INSET = Object.freeze({ left: 52, top: 10, right: 14, bottom: 36 });

/** @param {number} width @param {number} height px @param {[number, number]} x at the left and right @param {[number, number]} y at the bottom and top @param {typeof INSET} [inset] @returns {Axes} */
export function createAxes(width, height, x, y, inset = INSET) {
  const box = { left: inset.left, top: inset.top, right: Math.max(inset.left + 10, width - inset.right), bottom: Math.max(inset.top + 10, height - inset.bottom) };
  const [sx, sy] = [(box.right - box.left) / (x[1] - x[0]), (box.top - box.bottom) / (y[1] - y[0])];
  return {
    box, x, y,
    px: (value) => box.left + (value - x[0]) * sx, py: (value) => box.bottom + (value - y[0]) * sy,
    xAt: (px) => x[0] + (px - box.left) / sx, yAt: (py) => y[0] + (py - box.bottom) / sy,
  };
}

/** Round values within two limits. @param {number} low @param {number} high @param {number} most how many at most @returns {{ values: number[], digits: number }} */
export function ticksOf(low, high, most) {
  const rough = (high - low) / Math.max(1, most);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5].find((one) => one * power >= rough * (1 - 1e-9)) ?? 10);
  const values = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) values.push(k * step);
  return { values, digits: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

/** @param {number} value px @returns {number} sharp enough for a screen, short in the document */
export const at = (value) => Math.round(value * 10) / 10;

/** @param {number} value @param {number} digits */
const label = (value, digits) => value.toFixed(digits).replace(/^-(0(\.0*)?)$/, '$1').replace('-', '\u2212');

/**
 * Frame, ticks and titles. Lengths are marked at round values of the unit shown.
 * @param {Axes} axes @param {{ xTitle: string, yTitle: string, unit: 'mm'|'inch', plainX?: boolean, plainY?: boolean, ticksY?: number[] }} how
 * @returns {Mark[]} `plainX`, `plainY`: counts or degrees, not lengths
 */
export function axisMarks(axes, { xTitle, yTitle, unit, plainX = false, plainY = false, ticksY }) {
  const { box } = axes;
  const per = shownIn(1, unit);
  const [perX, perY] = [plainX ? 1 : per, plainY ? 1 : per];
  const across = ticksOf(axes.x[0] * perX, axes.x[1] * perX, (box.right - box.left) / 64);
  const [low, high] = [Math.min(...axes.y), Math.max(...axes.y)];
  const up = ticksY ? { values: ticksY, digits: 0 } : ticksOf(low * perY, high * perY, Math.max(2, (box.bottom - box.top) / 34));
  /** @type {Mark[]} */
  const marks = [];
  for (const value of across.values) {
    const px = at(axes.px(value / perX));
    marks.push(['line', { class: 'grid', x1: px, x2: px, y1: box.top, y2: box.bottom }], ['text', { class: 'tick-x', x: px, y: box.bottom + 14 }, label(value, across.digits)]);
  }
  for (const value of up.values) {
    const py = at(axes.py(value / perY));
    marks.push(['line', { class: 'grid', x1: box.left, x2: box.right, y1: py, y2: py }], ['text', { class: 'tick-y', x: box.left - 6, y: py + 4 }, label(value, up.digits)]);
  }
  const middle = at((box.top + box.bottom) / 2);
  return [...marks,
    ['rect', { class: 'frame', x: box.left, y: box.top, width: at(box.right - box.left), height: at(box.bottom - box.top) }],
    ['text', { class: 'axis-x', x: at((box.left + box.right) / 2), y: box.bottom + 30 }, xTitle],
    ['text', { class: 'axis-y', x: 12, y: middle, transform: `rotate(-90 12 ${middle})` }, yTitle]];
}

/** @param {ArrayLike<number>} xs @param {ArrayLike<number>} ys px @returns {string} a line through points */
export function lineThrough(xs, ys) {
  let d = '';
  for (let k = 0; k < xs.length; k += 1) d += `${k ? 'L' : 'M'}${at(xs[k])} ${at(ys[k])}`;
  return d;
}

/** Many dots as one path: drawn by round caps. @param {[number, number][]} places px @returns {string} */
export const dots = (places) => places.map(([x, y]) => `M${at(x)} ${at(y)}h0`).join('');

/** Many crosses as one path. @param {[number, number][]} places px @param {number} [arm] @returns {string} */
export const crosses = (places, arm = 3.5) => places.map(([x, y]) => `M${at(x - arm)} ${at(y - arm)}l${2 * arm} ${2 * arm}m0 ${-2 * arm}l${-2 * arm} ${2 * arm}`).join('');

const MANY = 1000; // readings; dots of the usual size would hide what they lie on

/**
 * Readings as dots, left-out ones as crosses, filled ones as small rings.
 * @param {{ state: string[] }} readings @param {(k: number) => [number, number]|null} place px of a reading; null: not shown @returns {Mark[]}
 */
export function readingMarks(readings, place) {
  /** @type {Record<string, [number, number][]>} */
  const by = { used: [], 'left out': [], filled: [] };
  readings.state.forEach((state, k) => {
    const where = place(k);
    if (where) (by[state] ?? by.used).push(where);
  });
  /** @type {Mark[]} */
  const marks = [];
  if (by.filled.length) marks.push(['path', { class: 'filled-out', d: dots(by.filled) }], ['path', { class: 'filled', d: dots(by.filled) }]);
  if (by.used.length) marks.push(['path', { class: by.used.length > MANY ? 'dots many' : 'dots', d: dots(by.used) }]);
  if (by['left out'].length) marks.push(['path', { class: 'crosses', d: crosses(by['left out']) }]);
  return marks;
}
