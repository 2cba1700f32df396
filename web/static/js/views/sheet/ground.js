// @ts-check
/** The sheet itself: paper, keep-outs, grid, seam and rulers. */
import { TURN, sheetBox, tickStep, toScreen, toSheet, wrapDeg } from '../../core/chart.js';
import { formatLength, unitName } from '../../core/units.js';

export const RULER = { left: 46, top: 26, bottom: 26 };
const MM_STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500];
const INCH_STEPS = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8];
const DEG_STEPS = [0.1, 0.5, 1, 2, 5, 10, 15, 30, 45, 90];
export const FONT = '"Source Sans 3", "Segoe UI", "Helvetica Neue", "Liberation Sans", Arial, sans-serif';
const RAD = Math.PI / 180;

/** @typedef {{ store: any, chart: import('../../core/chart.js').Chart, view: import('../../core/chart.js').View, width: number, height: number, dpr: number, ink: Record<string, string>, moving: boolean, pieces: import('./pieces.js').Piece[] }} Desk */

/** Edges the sheet shows within, rulers left out. @param {Desk} desk */
export function frameOf({ chart, view, width, height }) {
  const box = sheetBox(chart, view);
  return { left: Math.max(box.left, RULER.left), top: Math.max(box.top, RULER.top), right: Math.min(box.right, width), bottom: Math.min(box.bottom, height - RULER.bottom) };
}

/** @param {Desk} desk @param {CanvasRenderingContext2D} g */
function hatchPattern({ dpr, ink }, g) {
  const size = Math.round(7 * dpr);
  const tile = document.createElement('canvas');
  tile.width = size;
  tile.height = size;
  const t = /** @type {CanvasRenderingContext2D} */ (tile.getContext('2d'));
  t.strokeStyle = ink.hatch;
  t.lineWidth = dpr;
  for (const shift of [-size, 0, size]) { t.beginPath(); t.moveTo(shift - 1, size + 1); t.lineTo(shift + size + 1, -1); t.stroke(); }
  return g.createPattern(tile, 'repeat') ?? ink.hatch;
}

/** Ticks of one ruler: every whole multiple of the step in sight. @param {number} low @param {number} high @param {number} step @param {(value: number) => void} each */
function ticks(low, high, step, each) {
  for (let n = Math.ceil(low / step - 1e-9); n * step <= high + 1e-9; n += 1) each(n * step);
}

/** @param {Desk} desk @param {CanvasRenderingContext2D} g */
export function paintGround(desk, g) {
  const { chart, view, width, height, dpr, ink, store } = desk;
  g.setTransform(dpr, 0, 0, dpr, 0, 0);
  g.clearRect(0, 0, width, height);
  const f = frameOf(desk);
  if (f.right <= f.left || f.bottom <= f.top) return;
  const { unit, doc } = store.state;
  const per = unit === 'inch' ? 25.4 : 1;
  const steps = unit === 'inch' ? INCH_STEPS : MM_STEPS;
  const [xLow] = toSheet(chart, view, 0, f.bottom);
  const [xHigh] = toSheet(chart, view, 0, f.top);
  const sight = {
    per, xLow, xHigh, degLow: toSheet(chart, view, f.left, 0)[1] / RAD, degHigh: toSheet(chart, view, f.right, 0)[1] / RAD,
    stepX: tickStep(44, view.scale * per, steps), stepArc: tickStep(64, view.scale * per, steps), stepDeg: tickStep(50, chart.refMm * RAD * view.scale, DEG_STEPS),
  };
  g.fillStyle = ink.sheet;
  g.fillRect(f.left, f.top, f.right - f.left, f.bottom - f.top);
  paintKeepOuts(desk, g, f, doc.blank.keep_out ?? []);
  paintGrid(desk, g, f, sight);
  nameKeepOuts(desk, g, f, doc.blank.keep_out ?? [], unit);
  paintEdges(desk, g, f);
  paintRulers(desk, g, f, sight, unit);
}

/** @param {Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {any[]} keepOuts */
function paintKeepOuts(desk, g, f, keepOuts) {
  const { chart, view, dpr } = desk;
  for (const keep of keepOuts) {
    const top = Math.max(f.top, toScreen(chart, view, keep.to_mm, 0)[1]);
    const bottom = Math.min(f.bottom, toScreen(chart, view, keep.from_mm, 0)[1]);
    if (bottom <= top) continue;
    g.save();
    g.setTransform(1, 0, 0, 1, 0, 0);
    g.fillStyle = hatchPattern(desk, g);
    g.fillRect(f.left * dpr, top * dpr, (f.right - f.left) * dpr, (bottom - top) * dpr);
    g.restore();
  }
}

/** @param {Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {any} sight */
function paintGrid({ chart, view, dpr, ink }, g, f, sight) {
  const snap = (/** @type {number} */ v) => Math.round(v * dpr) / dpr + 0.5 / dpr;
  g.lineWidth = 1 / dpr;
  g.strokeStyle = ink.rule2;
  g.beginPath();
  ticks(sight.xLow / sight.per, sight.xHigh / sight.per, sight.stepX, (n) => { const y = snap(toScreen(chart, view, n * sight.per, 0)[1]); g.moveTo(f.left, y); g.lineTo(f.right, y); });
  ticks(sight.degLow, sight.degHigh, sight.stepDeg, (deg) => { const x = snap(toScreen(chart, view, 0, deg * RAD)[0]); g.moveTo(x, f.top); g.lineTo(x, f.bottom); });
  g.stroke();
}

/** @param {Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {any[]} keepOuts @param {'mm'|'inch'} unit */
function nameKeepOuts({ chart, view, ink }, g, f, keepOuts, unit) {
  g.font = `11px ${FONT}`;
  g.textBaseline = 'middle';
  g.textAlign = 'left';
  for (const keep of keepOuts) {
    const top = Math.max(f.top, toScreen(chart, view, keep.to_mm, 0)[1]);
    const bottom = Math.min(f.bottom, toScreen(chart, view, keep.from_mm, 0)[1]);
    if (bottom - top < 16) continue;
    const middle = (top + bottom) / 2;
    const text = `${keep.why || 'keep out'}, x ${formatLength(keep.from_mm * 1000, unit)} to ${formatLength(keep.to_mm * 1000, unit)}`;
    g.fillStyle = ink.sheet;
    g.fillRect(f.left + 8, middle - 8, g.measureText(text).width + 12, 16);
    g.fillStyle = ink.ink2;
    g.fillText(text, f.left + 14, middle + 0.5);
  }
}

/** The ends of the blank, and the seam: its two long edges are one line on the blank. @param {Desk} desk @param {CanvasRenderingContext2D} g @param {any} f */
function paintEdges({ chart, view, dpr, ink }, g, f) {
  const box = sheetBox(chart, view);
  const snap = (/** @type {number} */ v) => Math.round(v * dpr) / dpr + 0.5 / dpr;
  g.strokeStyle = ink.ink;
  g.lineWidth = 1;
  g.beginPath();
  if (box.top >= f.top) { g.moveTo(f.left, snap(box.top)); g.lineTo(f.right, snap(box.top)); }
  if (box.bottom <= f.bottom) { g.moveTo(f.left, snap(box.bottom)); g.lineTo(f.right, snap(box.bottom)); }
  g.stroke();
  g.strokeStyle = ink.seam;
  g.lineWidth = 1.5;
  g.setLineDash([9, 3, 2, 3]);
  g.beginPath();
  for (const x of [box.left, box.right]) if (x >= f.left - 1 && x <= f.right + 1) { g.moveTo(x, f.top); g.lineTo(x, f.bottom); }
  g.stroke();
  g.setLineDash([]);
}

/** Rulers stay at the edge of the picture when the sheet is larger than it. @param {Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {any} sight @param {'mm'|'inch'} unit */
function paintRulers({ chart, view, dpr, ink }, g, f, sight, unit) {
  const snap = (/** @type {number} */ v) => Math.round(v * dpr) / dpr + 0.5 / dpr;
  const { per, xLow, xHigh, degLow, degHigh, stepX, stepArc, stepDeg } = sight;
  const places = (/** @type {number} */ step) => (step >= 1 ? 0 : unit === 'inch' ? Math.min(4, Math.ceil(-Math.log2(step))) : 1);
  const words = (/** @type {number} */ value, /** @type {number} */ digits) => value.toFixed(digits).replace('-', '\u2212').replace(/^\u22120(\.0+)?$/, '0');
  g.font = `11px ${FONT}`;
  g.textBaseline = 'middle';
  g.fillStyle = ink.ink2;
  g.strokeStyle = ink.ink2;
  g.lineWidth = 1 / dpr;
  g.beginPath();
  g.textAlign = 'right';
  if (((stepX * per) / 5) * view.scale >= 5) ticks(xLow, xHigh, (stepX * per) / 5, (x) => { const y = snap(toScreen(chart, view, x, 0)[1]); g.moveTo(f.left - 3, y); g.lineTo(f.left, y); });
  ticks(xLow / per, xHigh / per, stepX, (n) => {
    const [, y] = toScreen(chart, view, n * per, 0);
    g.moveTo(f.left - 6, snap(y)); g.lineTo(f.left, snap(y));
    g.fillText(words(n, places(stepX)), f.left - 10, Math.min(f.bottom - 2, Math.max(f.top + 4, y)));
  });
  g.textAlign = 'center';
  if ((stepDeg / 3) * chart.refMm * RAD * view.scale >= 5) ticks(degLow, degHigh, stepDeg / 3, (deg) => { const x = snap(toScreen(chart, view, 0, deg * RAD)[0]); g.moveTo(x, f.bottom); g.lineTo(x, f.bottom + 3); });
  ticks(degLow, degHigh, stepDeg, (deg) => {
    const [x] = toScreen(chart, view, 0, deg * RAD);
    g.moveTo(snap(x), f.bottom); g.lineTo(snap(x), f.bottom + 6);
    g.fillText(`${words(Math.abs(deg) > 180 + 1e-9 ? wrapDeg(deg) : deg, stepDeg < 1 ? 1 : 0)}°`, x, f.bottom + 16);
  });
  const arc = (chart.aroundMm / TURN) * RAD / per;
  ticks(degLow * arc, degHigh * arc, stepArc, (n) => {
    const [x] = toScreen(chart, view, 0, (n * per) / chart.refMm);
    g.moveTo(snap(x), f.top - 6); g.lineTo(snap(x), f.top);
    g.fillText(words(n, places(stepArc)), x, f.top - 14);
  });
  g.stroke();
  g.textAlign = 'left';
  g.fillText(unitName(unit), Math.max(8, f.left - 36), f.top - 14);
  if (f.top <= 44) return;
  g.textAlign = 'right';
  g.fillText(`across: arc at ⌀ ${formatLength(2000 * chart.refMm, unit)} ${unitName(unit)}`, f.right, f.top - 32);
  g.textAlign = 'left';
  if (f.right - f.left > 300) g.fillText('up: station x', f.left, f.top - 32);
}
