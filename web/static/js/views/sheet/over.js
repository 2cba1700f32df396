// @ts-check
/** What lies over the work: the chosen piece's box and handles, the tool's place, and what a finding points at. */
import { TURN, toScreen } from '../../core/chart.js';
import { momentAt } from '../../core/arrays.js';
import { angleWords } from '../../core/quantity.js';
import { formatLength, unitName } from '../../core/units.js';
import { FONT, frameOf } from './ground.js';
import { CORNERS, outlineOf, placeOf } from './pieces.js';

const HANDLE = 5;
const TURN_ARM = 26;

/** Corner handles and the turning knob of a piece, on the screen. @param {import('./ground.js').Desk} desk @param {import('./pieces.js').Piece} piece @param {number} turns */
export function handlesOf({ chart, view }, piece, turns) {
  const on = (/** @type {[number, number]} */ [x, theta]) => toScreen(chart, view, x, theta + turns * TURN);
  const [top, middle] = [on(placeOf(piece, 0, 0.5)), on(placeOf(piece, 0, 0))];
  const size = Math.hypot(top[0] - middle[0], top[1] - middle[1]) || 1;
  const knob = /** @type {[number, number]} */ ([top[0] + ((top[0] - middle[0]) / size) * TURN_ARM, top[1] + ((top[1] - middle[1]) / size) * TURN_ARM]);
  return { outline: outlineOf(piece).map(on), corners: CORNERS.map(([a, b]) => on(placeOf(piece, a, b))), top, middle, knob };
}

/** Where a finding points, as stations and angles. @param {any} state @returns {[number, number]|null} */
export function litPlace({ lit, view }) {
  const where = lit?.where;
  if (!where || !view) return null;
  if (where.x_mm !== undefined && where.angle_deg !== undefined) return [where.x_mm, (where.angle_deg * Math.PI) / 180];
  const { strokes } = view;
  if (where.stroke === undefined || !strokes?.number) return null;
  const s = strokes.number.indexOf(where.stroke);
  return s < 0 ? null : [strokes.x[strokes.offsets[s]], strokes.theta[strokes.offsets[s]]];
}

/** Into the sheet's one turn. @param {import('../../core/chart.js').Chart} chart @param {number} theta */
export const home = (chart, theta) => theta - TURN * Math.floor((theta - chart.left) / TURN);

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {string} text @param {number} x @param {number} y @param {string} tone */
function tag({ width, height, ink }, g, text, x, y, tone) {
  g.font = `600 12px ${FONT}`;
  g.textBaseline = 'middle';
  g.textAlign = 'left';
  const wide = g.measureText(text).width + 14;
  const left = Math.min(width - wide - 4, Math.max(4, x));
  const top = Math.min(height - 26, Math.max(4, y));
  g.beginPath();
  g.roundRect(left, top, wide, 22, 3);
  g.fillStyle = ink.sheet;
  g.fill();
  g.strokeStyle = tone;
  g.lineWidth = 1;
  g.stroke();
  g.fillStyle = tone;
  g.fillText(text, left + 7, top + 11.5);
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {string|null} held what is being dragged: move, size, turn */
export function paintOver(desk, g, held) {
  const { width, height, dpr, store } = desk;
  g.setTransform(dpr, 0, 0, dpr, 0, 0);
  g.clearRect(0, 0, width, height);
  const f = frameOf(desk);
  const { selected, view, moment } = store.state;
  const inFrame = (/** @type {number[]} */ [x, y]) => x >= f.left - 8 && x <= f.right + 8 && y >= f.top - 8 && y <= f.bottom + 8;
  for (const piece of desk.pieces) {
    for (const turns of piece.turns) {
      const h = handlesOf(desk, piece, turns);
      paintBox(desk, g, f, h, piece.index === selected, piece.grips.turn);
      if (piece.index === selected) paintHandles(desk, g, h, piece.grips, inFrame);
    }
    if (piece.index === selected && piece.copy === 0 && piece.turns.length) paintWords(desk, g, f, piece, held);
  }
  if (view?.moves && moment > 0) paintTool(desk, g, momentAt(view.moves, moment), inFrame);
  const place = litPlace(store.state);
  if (place) paintLit(desk, g, place);
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {ReturnType<typeof handlesOf>} h @param {boolean} chosen @param {boolean} turns */
function paintBox({ ink }, g, f, h, chosen, turns) {
  g.save();
  g.beginPath();
  g.rect(f.left - 1, f.top - 1, f.right - f.left + 2, f.bottom - f.top + 2);
  g.clip();
  g.strokeStyle = chosen ? ink.brass : ink.edge;
  g.lineWidth = chosen ? 1.5 : 1;
  if (!chosen) g.setLineDash([3, 3]);
  g.beginPath();
  for (const [x, y] of h.outline) g.lineTo(x, y);
  g.closePath();
  if (chosen && turns) { g.moveTo(...h.top); g.lineTo(...h.knob); }
  g.stroke();
  g.restore();
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {ReturnType<typeof handlesOf>} h @param {import('./pieces.js').Piece['grips']} grips @param {(p: number[]) => boolean} inFrame */
function paintHandles({ ink }, g, h, grips, inFrame) {
  g.fillStyle = ink.sheet;
  g.strokeStyle = ink.brass;
  g.lineWidth = 1.5;
  for (const p of grips.size ? h.corners : []) if (inFrame(p)) { g.beginPath(); g.rect(p[0] - HANDLE, p[1] - HANDLE, 2 * HANDLE, 2 * HANDLE); g.fill(); g.stroke(); }
  if (grips.turn && inFrame(h.knob)) { g.beginPath(); g.arc(h.knob[0], h.knob[1], 6, 0, TURN); g.fill(); g.stroke(); }
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {any} f @param {import('./pieces.js').Piece} piece @param {string|null} held */
function paintWords(desk, g, f, piece, held) {
  const { ink, store } = desk;
  const { unit } = store.state;
  const { placement } = piece;
  const h = handlesOf(desk, piece, piece.turns[0]);
  const left = Math.max(f.left + 4, Math.min(...h.outline.map((p) => p[0])));
  const right = Math.min(f.right - 4, Math.max(...h.outline.map((p) => p[0])));
  const low = Math.max(...h.outline.map((p) => p[1]));
  const place = `x ${formatLength(placement.x_mm * 1000, unit)}   θ ${angleWords(placement.angle_deg ?? 0)}`;
  const wide = `${formatLength(piece.carry.width * 1000, unit)} ${unitName(unit)} wide`;
  if (held) {
    tag(desk, g, held === 'size' ? wide : held === 'turn' ? `turn ${angleWords(placement.turn_deg ?? 0)}` : place, left, low + 12, ink.brass);
    return;
  }
  if (low + 26 > f.bottom) return;
  g.font = `12px ${FONT}`;
  g.textBaseline = 'alphabetic';
  const span = g.measureText(place + wide).width + 16;
  g.fillStyle = ink.sheet;
  g.globalAlpha = 0.88;
  g.fillRect(left - 4, low + 7, Math.max(right - left, g.measureText(place).width) + 8, 19);
  g.globalAlpha = 1;
  g.fillStyle = ink.brass;
  g.textAlign = 'left';
  g.fillText(place, left, low + 21);
  if (right - left < span) return;
  g.textAlign = 'right';
  g.fillText(wide, right, low + 21);
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {ReturnType<typeof momentAt>} at @param {(p: number[]) => boolean} inFrame */
function paintTool({ chart, view, ink }, g, at, inFrame) {
  const p = toScreen(chart, view, at.x, home(chart, at.theta));
  if (!inFrame(p)) return;
  g.strokeStyle = ink.sheet;
  for (const wide of [4, 1.75]) {
    g.lineWidth = wide;
    if (wide < 3) g.strokeStyle = ink.brass;
    g.beginPath();
    g.arc(p[0], p[1], 6.5, 0, TURN);
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { g.moveTo(p[0] + dx * 4, p[1] + dy * 4); g.lineTo(p[0] + dx * 12, p[1] + dy * 12); }
    g.stroke();
  }
}

/** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {[number, number]} place */
function paintLit(desk, g, place) {
  const { chart, view, ink } = desk;
  const p = toScreen(chart, view, place[0], home(chart, place[1]));
  g.beginPath();
  g.arc(p[0], p[1], 13, 0, TURN);
  g.fillStyle = ink.warn;
  g.globalAlpha = 0.16;
  g.fill();
  g.globalAlpha = 1;
  g.strokeStyle = ink.sheet;
  g.lineWidth = 5;
  g.stroke();
  g.strokeStyle = ink.warn;
  g.lineWidth = 2.25;
  g.stroke();
}
