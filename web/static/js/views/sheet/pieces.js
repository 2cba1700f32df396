// @ts-check
/** The pieces of art as they now lie on the sheet: the plan's own wrapping, carried to where the document has them. */
import { boxPlace, carried, carryTo, flatGrid, wrapThrough } from '../../core/warp.js';
import { seamTurns } from '../../core/chart.js';
import { radiusAt } from '../../core/skin.js';

const EDGE = 10;

/**
 * @typedef {{ index: number, grid: import('../../core/warp.js').WrapGrid, facts: any, carry: import('../../core/warp.js').Carry, planned: boolean, low: number, high: number, turns: number[], item: any }} Piece
 *   `low`, `high`: the angles it covers; `turns`: the whole turns at which it shows on the sheet
 */

/** @param {any} state @returns {Piece[]} one for each piece of the document */
export function piecesOf({ doc, view, assets }) {
  return doc.artwork.map((/** @type {any} */ item, /** @type {number} */ index) => {
    const k = view?.meta.arts?.findIndex((/** @type {any} */ one) => one.index === index && view.of?.artwork[index]?.asset === item.asset) ?? -1;
    const planned = k >= 0;
    const facts = planned ? view.meta.arts[k] : guess(item, assets[item.asset], view);
    const grid = planned ? view.grids[k] : flatGrid(facts);
    const carry = carryTo(facts, item.placement);
    let [low, high] = [Infinity, -Infinity];
    for (const [a, b] of edge(4)) { const [, theta] = boxPlace(grid, carry, a, b); low = Math.min(low, theta); high = Math.max(high, theta); }
    return { index, grid, facts, carry, planned, low, high, turns: seamTurns(low, high), item };
  });
}

/** What is known of art that no plan has laid. @param {any} item @param {any} facts @param {any} view */
function guess({ placement }, facts, view) {
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
 * Calls `emit` for each point of the piece's rings and lines.
 * @param {any} view @param {Piece} piece @param {(x: number, theta: number, first: boolean) => void} emit
 */
export function traceArt(view, piece, emit) {
  const { points, offsets, item } = view.art;
  const k = view.meta.arts.findIndex((/** @type {any} */ one) => one.index === piece.index);
  const still = piece.carry.dx === 0 && piece.carry.dTheta === 0 && piece.carry.m[1] === 0 && piece.carry.m[0] === 1 && piece.carry.m[3] === 1;
  for (let s = 0; s < item.length; s += 1) {
    if (item[s] !== k) continue;
    for (let i = offsets[s]; i < offsets[s + 1]; i += 1) {
      const [x, theta] = still ? wrapThrough(piece.grid, points[2 * i], points[2 * i + 1]) : carried(piece.grid, piece.carry, points[2 * i], points[2 * i + 1]);
      emit(x, theta, i === offsets[s]);
    }
  }
}
