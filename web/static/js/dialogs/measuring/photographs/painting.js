// @ts-check
/** Draws a photograph with all that lies over it. Every line has a dark one under it, so that it shows on any picture. */
import { toCanvas } from '../../../core/photographs/sight.js';

/** @typedef {[number, number]} Point @typedef {import('../../../core/photographs/sight.js').Sight} Sight */

const EDGE = '#ffd84d';
const DOUBTED = '#ff6a5c';
const AXIS = '#5cc8ff';
const ADDED = '#4be3b0';
const TAKEN = '#ff9f6e';
const UNDER = 'rgb(0 0 0 / 62%)';
export const MASK = /** @type {[number, number, number, number]} */ ([0, 150, 255, 104]);

/** @param {CanvasRenderingContext2D} g @param {Point[]} points @param {boolean} closed @param {string} colour @param {number[]} [dash] */
function line(g, points, closed, colour, dash = []) {
  if (points.length < 2) return;
  g.beginPath();
  points.forEach(([x, y], i) => (i ? g.lineTo(x, y) : g.moveTo(x, y)));
  if (closed) g.closePath();
  g.setLineDash([]);
  g.strokeStyle = UNDER;
  g.lineWidth = 3.5;
  g.stroke();
  g.setLineDash(dash);
  g.strokeStyle = colour;
  g.lineWidth = 1.5;
  g.stroke();
  g.setLineDash([]);
}

/** @param {CanvasRenderingContext2D} g @param {Point} at @param {string} colour @param {number} size @param {string} [name] */
function knob(g, [x, y], colour, size, name = '') {
  g.beginPath();
  g.arc(x, y, size, 0, 2 * Math.PI);
  g.moveTo(x - size - 4, y); g.lineTo(x - 2, y); g.moveTo(x + 2, y); g.lineTo(x + size + 4, y);
  g.moveTo(x, y - size - 4); g.lineTo(x, y - 2); g.moveTo(x, y + 2); g.lineTo(x, y + size + 4);
  g.strokeStyle = UNDER; g.lineWidth = 4; g.stroke();
  g.strokeStyle = colour; g.lineWidth = 1.6; g.stroke();
  if (!name) return;
  g.font = '600 13px sans-serif';
  const wide = g.measureText(name).width;
  const left = x + size + 8 + wide > g.canvas.clientWidth ? x - size - 6 - wide : x + size + 6;
  g.strokeStyle = UNDER; g.lineWidth = 3; g.strokeText(name, left, y - size - 4);
  g.fillStyle = colour; g.fillText(name, left, y - size - 4);
}

/**
 * @param {CanvasRenderingContext2D} g @param {{ width: number, height: number, dpr: number, sight: Sight, bitmap: ImageBitmap|null, mask: HTMLCanvasElement|null, maskScale: number,
 *   outline: any, photo: import('../../../core/photographs/project.js').Photo, axis: any, active: 'from_px'|'to_px'|null, path: Point[], lasso: 'include'|'exclude'|null, cursor: Point|null, pending: { from: Point, to: Point }|null }} what
 */
export function paint(g, what) {
  const { width, height, dpr, sight, bitmap, outline, photo } = what;
  const on = (/** @type {Point} */ point) => toCanvas(sight, point);
  g.setTransform(dpr, 0, 0, dpr, 0, 0);
  g.clearRect(0, 0, width, height);
  if (!bitmap) return;
  g.imageSmoothingEnabled = sight.zoom < 3;
  g.drawImage(bitmap, sight.left, sight.top, bitmap.width * sight.zoom, bitmap.height * sight.zoom);
  if (what.mask) {
    const by = what.maskScale * sight.zoom;
    g.imageSmoothingEnabled = false;
    g.drawImage(what.mask, sight.left, sight.top, what.mask.width * by, what.mask.height * by);
  }
  for (const corners of photo.include) line(g, corners.map(on), true, ADDED);
  for (const corners of photo.exclude) line(g, corners.map(on), true, TAKEN, [6, 4]);
  if (outline) {
    const points = outline.points_px.map(on);
    line(g, points, true, EDGE);
    g.fillStyle = DOUBTED;
    points.forEach(([x, y], i) => { if (!outline.ok[i]) g.fillRect(x - 2.5, y - 2.5, 5, 5); });
  }
  for (const { from_px, to_px } of photo.moved) { line(g, [on(from_px), on(to_px)], false, ADDED); knob(g, on(to_px), ADDED, 3); }
  if (what.axis) {
    line(g, [on(what.axis.from_px), on(what.axis.to_px)], false, AXIS, [10, 5]);
    knob(g, on(what.axis.from_px), AXIS, what.active === 'from_px' ? 9 : 6, 'x = 0');
    knob(g, on(what.axis.to_px), AXIS, what.active === 'to_px' ? 9 : 6, 'far end');
  }
  if (what.path.length) line(g, what.path.map(on), false, what.lasso === 'exclude' ? TAKEN : ADDED, [3, 3]);
  if (what.pending) { line(g, [on(what.pending.from), on(what.pending.to)], false, EDGE); knob(g, on(what.pending.to), EDGE, 7); }
  if (what.cursor) knob(g, on(what.cursor), '#ffffff', 8);
}

/** A piece of the picture much enlarged, a cross in its middle. @param {CanvasRenderingContext2D} g @param {ImageBitmap} bitmap @param {Point} place @param {number} size of the loupe, device px @param {number} zoom device px a picture px */
export function magnify(g, bitmap, place, size, zoom) {
  g.setTransform(1, 0, 0, 1, 0, 0);
  g.fillStyle = '#000';
  g.fillRect(0, 0, size, size);
  g.imageSmoothingEnabled = false;
  g.drawImage(bitmap, size / 2 - place[0] * zoom, size / 2 - place[1] * zoom, bitmap.width * zoom, bitmap.height * zoom);
  g.beginPath();
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { g.moveTo(size / 2 + dx * 4, size / 2 + dy * 4); g.lineTo(size / 2 + (dx * size) / 2, size / 2 + (dy * size) / 2); }
  g.strokeStyle = UNDER; g.lineWidth = 4; g.stroke();
  g.strokeStyle = EDGE; g.lineWidth = 1.5; g.stroke();
}
