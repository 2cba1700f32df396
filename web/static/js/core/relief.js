// @ts-check
/**
 * The carved skin under a lamp. Pure: the law is that of the proof's picture, in which the lamp stands at the upper left
 * (azimuth 315°, altitude 45°), a wall turned away keeps the ambient share, and the ground darkens with depth.
 */
import { radiusAt } from './skin.js';

export const LAMP = Object.freeze([-0.5, 0.5, Math.SQRT1_2]); // towards +θ (right), towards +x (up), outwards
export const AMBIENT = 0.4;
/** What a groove loses of its brightness: at once with its first EDGE_MM, and up to the deepest by the root of depth. */
export const [EDGE, DEEP, EDGE_MM] = [0.2, 0.36, 0.01];
const TURN = 2 * Math.PI;

/** @typedef {{ normals: Uint8Array, shades: Uint8Array, high: number, wide: number, dx: number, dTheta: number, whole: boolean }} Relief */

/** @type {WeakMap<object, Relief>} */
const made = new WeakMap();

/**
 * Computed once for each carving. `normals`: four bytes a cell, rows by rising x: the normal's parts towards +θ and +x as
 * 128 + 127 n, the root of depth over the greatest, and the outward part as 255 n. `shades`: 255 where nothing is cut.
 * @param {{ skin: any, carved: any }} view @returns {Relief|null} null where nothing was carved
 */
export function reliefOf({ skin, carved }) {
  if (!carved || carved.x.length < 2 || carved.theta.length < 2) return null;
  const held = made.get(carved) ?? computed(skin, carved);
  made.set(carved, held);
  return held;
}

/** @param {any} skin @param {any} carved @returns {Relief} */
function computed(skin, { x, theta, depth, greatest }) {
  const [high, wide] = [x.length, theta.length];
  const [dx, dTheta] = [(x[high - 1] - x[0]) / (high - 1), (theta[wide - 1] - theta[0]) / (wide - 1)];
  const whole = Math.abs(TURN - wide * dTheta) < dTheta;
  const middle = (theta[0] + theta[wide - 1]) / 2;
  const most = Math.max(1e-6, greatest);
  const [lampRight, lampUp, lampOut] = LAMP;
  const normals = new Uint8Array(4 * high * wide);
  const shades = new Uint8Array(high * wide).fill(255);
  for (let row = 0; row < high; row += 1) {
    const [below, above] = [Math.max(0, row - 1) * wide, Math.min(high - 1, row + 1) * wide];
    const upScale = 1 / (dx * (row === 0 || row === high - 1 ? 1 : 2));
    const acrossScale = 1 / (dTheta * radiusAt(skin, x[row], middle));
    for (let col = 0; col < wide; col += 1) {
      const i = row * wide + col;
      const at = 4 * i;
      const d = depth[i];
      if (!(d > 0)) { normals[at] = 128; normals[at + 1] = 128; normals[at + 3] = 255; continue; }
      let left = i - 1;
      let right = i + 1;
      let share = 0.5;
      if (col === 0) { if (whole) left = i + wide - 1; else { left = i; share = 1; } }
      if (col === wide - 1) { if (whole) right = i - col; else { right = i; share = 1; } }
      const across = (depth[right] - depth[left]) * acrossScale * share;
      const up = (depth[above + col] - depth[below + col]) * upScale;
      // The skin lies at −depth: its normal is (across, up, 1) over its length.
      const out = 1 / Math.sqrt(1 + across * across + up * up);
      const root = Math.sqrt(Math.min(1, d / most));
      // An array of bytes cuts the fraction off: a half on top rounds.
      normals[at] = 128.5 + 127 * across * out;
      normals[at + 1] = 128.5 + 127 * up * out;
      normals[at + 2] = 0.5 + 255 * root;
      normals[at + 3] = 0.5 + 255 * out;
      const light = Math.max(0, (across * lampRight + up * lampUp + lampOut) * out) / lampOut;
      const ground = 1 - EDGE * Math.min(1, d / EDGE_MM) - DEEP * root;
      shades[i] = Math.min(255, 0.5 + 255 * ground * (AMBIENT + (1 - AMBIENT) * light));
    }
  }
  return { normals, shades, high, wide, dx, dTheta, whole };
}

/**
 * A palette for `shades`: a ground under each share of the light, what is darker being warmer, as in wood.
 * @param {number[]} ground red, green, blue, 0 … 1 @param {number} gain how much brighter than the shade
 * @returns {Uint8ClampedArray} 256 × 3
 */
export function inksOf(ground, gain) {
  const out = new Uint8ClampedArray(768);
  const warmth = [0.82, 1, 1.22];
  for (let k = 0; k < 256; k += 1) for (let c = 0; c < 3; c += 1) out[3 * k + c] = Math.round(255 * ground[c] * Math.min(1, (gain * k) / 255) ** warmth[c]);
  return out;
}
