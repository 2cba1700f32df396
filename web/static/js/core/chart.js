// @ts-check
/**
 * The drafting sheet: θ runs to the right, once round from the seam on, x runs up. One millimetre across is one
 * millimetre of arc at the reference radius. Pure geometry.
 * @typedef {{ lowMm: number, highMm: number, refMm: number, aroundMm: number, left: number }} Chart left: θ of its left edge, rad
 * @typedef {{ scale: number, left: number, top: number }} View where the sheet's upper left corner is, and px per mm
 * @typedef {{ left: number, top: number, right: number, bottom: number }} Box
 */

export const TURN = 2 * Math.PI;

/** @param {number} deg @returns {number} the same direction in (−180, 180] */
export function wrapDeg(deg) {
  const turned = ((deg % 360) + 360) % 360;
  return turned > 180 ? turned - 360 : turned;
}

/** @param {number} lowMm @param {number} highMm @param {number} refMm @param {number} [seamDeg] where it is opened; 0 is on it @returns {Chart} */
export function createChart(lowMm, highMm, refMm, seamDeg = 180) {
  const seam = wrapDeg(seamDeg);
  return Object.freeze({ lowMm, highMm, refMm, aroundMm: TURN * refMm, left: ((seam > 0 ? seam - 360 : seam) * Math.PI) / 180 });
}

/** @param {Chart} chart @param {View} view @param {number} xMm @param {number} theta @returns {[number, number]} */
export const toScreen = (chart, view, xMm, theta) => [
  view.left + (theta - chart.left) * chart.refMm * view.scale,
  view.top + (chart.highMm - xMm) * view.scale,
];

/** @param {Chart} chart @param {View} view @param {number} px @param {number} py @returns {[number, number]} x in mm, θ in rad (not wrapped) */
export const toSheet = (chart, view, px, py) => [
  chart.highMm - (py - view.top) / view.scale,
  (px - view.left) / view.scale / chart.refMm + chart.left,
];

/** @param {Chart} chart @param {View} view @returns {Box} */
export const sheetBox = (chart, view) => ({
  left: view.left, top: view.top, right: view.left + chart.aroundMm * view.scale, bottom: view.top + (chart.highMm - chart.lowMm) * view.scale,
});

/** @param {Chart} chart @param {number} width @param {number} height @param {Box} inset @returns {View} */
export function fitView(chart, width, height, inset) {
  const wide = width - inset.left - inset.right;
  const high = height - inset.top - inset.bottom;
  const tall = chart.highMm - chart.lowMm;
  const scale = Math.max(0.05, Math.min(wide / chart.aroundMm, high / tall));
  return {
    scale,
    left: Math.round(inset.left + (wide - chart.aroundMm * scale) / 2),
    top: Math.round(inset.top + (high - tall * scale) / 2),
  };
}

/** @param {View} view @param {number} factor @param {number} px @param {number} py @param {[number, number]} limits @returns {View} */
export function zoomAt(view, factor, px, py, limits) {
  const scale = Math.min(limits[1], Math.max(limits[0], view.scale * factor));
  const ratio = scale / view.scale;
  return { scale, left: px - (px - view.left) * ratio, top: py - (py - view.top) * ratio };
}

/** Keeps a strip of the sheet in sight. @param {Chart} chart @param {View} view @param {number} width @param {number} height @returns {View} */
export function keepInSight(chart, view, width, height) {
  const margin = 80;
  const wide = chart.aroundMm * view.scale;
  const high = (chart.highMm - chart.lowMm) * view.scale;
  return {
    scale: view.scale,
    left: Math.min(width - margin, Math.max(margin - wide, view.left)),
    top: Math.min(height - margin, Math.max(margin - high, view.top)),
  };
}

/**
 * The whole turns by which something between two angles must be shifted to show on the sheet.
 * @param {number} lowTheta @param {number} highTheta rad @param {number} [left] θ of the sheet's left edge @returns {number[]} shifts in whole turns, least first
 */
export function seamTurns(lowTheta, highTheta, left = -Math.PI) {
  const from = Math.ceil((left - highTheta) / TURN + 1e-9);
  const to = Math.floor((left + TURN - lowTheta) / TURN - 1e-9);
  const turns = [];
  for (let k = from; k <= to; k += 1) turns.push(k);
  return turns;
}

/** @param {number} least px between ticks @param {number} scale px per unit @param {readonly number[]} steps @returns {number} */
export const tickStep = (least, scale, steps) => steps.find((step) => step * scale >= least) ?? steps[steps.length - 1];

/** @param {number[][]} points @param {number} x @param {number} y @returns {boolean} whether the place lies inside the closed outline */
export function inside(points, x, y) {
  let within = false;
  for (let i = 0, j = points.length - 1; i < points.length; j = i, i += 1) {
    const [[ax, ay], [bx, by]] = [points[i], points[j]];
    if ((ay > y) !== (by > y) && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) within = !within;
  }
  return within;
}
