// @ts-check
/** The pieces of art as they now lie on the sheet: the plan's own wrapping, carried to where the document has them. */
import { copiesOf, gripsOf, rootOf } from '../../core/arranging.js';
import { boxPlace, carried, carryTo, flatGrid, wrapThrough } from '../../core/warp.js';
import { seamTurns } from '../../core/chart.js';
import { radiusAt } from '../../core/skin.js';

const EDGE = 10;

/**
 * @typedef {{ index: number, copy: number, mirrored: boolean, root: number, grips: { size: boolean, turn: boolean }, placement: any, k: number, grid: import('../../core/warp.js').WrapGrid, facts: any, carry: import('../../core/warp.js').Carry, planned: boolean, low: number, high: number, turns: number[], item: any }} Piece
 *   one copy of the document's piece `index`; `root`: the piece whose placement a hand changes; `placement`: the copy's own;
 *   `k`: its place in the plan, -1 where it has none; `low`, `high`: the angles it covers; `turns`: the whole turns at
 *   which it shows on the sheet
 */

/** @param {any} state @param {number} [left] θ of the sheet's left edge @returns {Piece[]} one for each copy of each piece of the document */
export function piecesOf({ doc, view, assets }, left) {
  return doc.artwork.flatMap((/** @type {any} */ item, /** @type {number} */ index) => {
    const [root, grips] = [rootOf(doc, index), gripsOf(doc, index)];
    const made = view?.of?.artwork[index];
    const known = made && made.asset === item.asset && made.border?.along === item.border?.along;
    const arts = known ? view.meta.arts ?? [] : [];
    return copiesOf(doc, index).map((one) => {
      const k = arts.findIndex((/** @type {any} */ art) => art.index === index && art.copy === one.copy);
      const near = k >= 0 ? k : arts.findIndex((/** @type {any} */ art) => art.index === index);
      const planned = near >= 0;
      const facts = planned ? view.meta.arts[near] : guess(one.placement, item, assets[item.asset], view);
      const grid = planned ? view.grids[near] : flatGrid(facts);
      const carry = carryTo(facts, one.placement);
      let [low, high] = [Infinity, -Infinity];
      for (const [a, b] of edge(4)) { const [, theta] = boxPlace(grid, carry, a, b); low = Math.min(low, theta); high = Math.max(high, theta); }
      return { ...one, index, root, grips, k: near, grid, facts, carry, planned, low, high, turns: seamTurns(low, high, left), item };
    });
  });
}

/** What is known of art that no plan has laid. @param {any} placement @param {any} item @param {any} facts @param {any} view */
function guess(placement, item, facts, view) {
  if (item.border?.along !== 'frame' && item.border) {
    const r0 = view ? radiusAt(view.skin, placement.x_mm, 0) : 20;
    return { x_mm: placement.x_mm, angle_deg: placement.angle_deg ?? 0, width_mm: 2 * Math.PI * r0, height_mm: item.border.height_mm ?? 3, turn_deg: 0, r0_mm: r0 };
  }
  const shape = facts?.width && facts?.height ? facts.height / facts.width : 1;
  const width = placement.width_mm ?? (placement.height_mm ? placement.height_mm / shape : 20);
  const r0 = view ? radiusAt(view.skin, placement.x_mm, ((placement.angle_deg ?? 0) * Math.PI) / 180) : 20;
  return { x_mm: placement.x_mm, angle_deg: placement.angle_deg ?? 0, width_mm: width, height_mm: placement.height_mm ?? width * shape, turn_deg: placement.turn_deg ?? 0, r0_mm: r0 };
}

/** Round the box, from lower left. @param {number} n points a side @returns {[number, number][]} */
function edge(n) {
  const side = Array.from({ length: n }, (_, i) => i / n - 0.5);
  return [...side.map((t) => /** @type {[number, number]} */ ([t, -0.5])), ...side.map((t) => /** @type {[number, number]} */ ([0.5, t])), ...side.map((t) => /** @type {[number, number]} */ ([-t, 0.5])), ...side.map((t) => /** @type {[number, number]} */ ([-0.5, -t]))];
}

/** The box of a piece as it lies on the skin. @param {Piece} piece @returns {[number, number][]} x, θ */
export const outlineOf = ({ grid, carry }) => edge(EDGE).map(([a, b]) => boxPlace(grid, carry, a, b));

/** @type {[number, number][]} */
export const CORNERS = [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]];

/** @param {Piece} piece @param {number} a @param {number} b */
export const placeOf = ({ grid, carry }, a, b) => boxPlace(grid, carry, a, b);

/**
 * Calls `emit` for each point of the piece's rings and lines; `open` where it is a line's.
 * @param {any} view @param {Piece} piece @param {(x: number, theta: number, first: boolean, open: boolean) => void} emit
 */
export function traceArt(view, piece, emit) {
  const { points, offsets, item, like, open } = view.art;
  const k = like ? like[piece.k] : piece.k;
  const still = piece.carry.dx === 0 && piece.carry.dTheta === 0 && piece.carry.m[1] === 0 && piece.carry.m[0] === 1 && piece.carry.m[3] === 1;
  for (let s = 0; s < item.length; s += 1) {
    if (item[s] !== k) continue;
    for (let i = offsets[s]; i < offsets[s + 1]; i += 1) {
      const [x, theta] = still ? wrapThrough(piece.grid, points[2 * i], points[2 * i + 1]) : carried(piece.grid, piece.carry, points[2 * i], points[2 * i + 1]);
      emit(x, theta, i === offsets[s], open?.[s] === 1);
    }
  }
}
