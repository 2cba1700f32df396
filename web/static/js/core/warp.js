// @ts-check
/**
 * How a piece of art lies on the skin: the plan sends a grid of sheet places and where each wraps to. Between the nodes
 * it is bilinear, beyond them it goes on straight. Until a fresh plan comes, a moved, turned or sized piece is carried by
 * the grid of the plan before.
 * @typedef {{ u: Float32Array, v: Float32Array, x: Float32Array, theta: Float32Array, told?: import('./stretch.js').Ellipses | null }} WrapGrid x and theta by [u][v]
 * @typedef {{ index: number, name: string, x_mm: number, angle_deg: number, width_mm: number, height_mm: number, turn_deg: number, mirror: boolean, projection: string, r0_mm: number }} Facts
 * @typedef {{ m: number[], dx: number, dTheta: number, width: number, height: number, turn: number }} Carry
 */

const RAD = Math.PI / 180;

/** @param {Float32Array} nodes even or not, rising @param {number} at @returns {[number, number]} cell and share (any real) */
function cellOf(nodes, at) {
  let [low, high] = [0, nodes.length - 2];
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if (nodes[mid] <= at) low = mid; else high = mid - 1;
  }
  return [low, (at - nodes[low]) / Math.max(1e-9, nodes[low + 1] - nodes[low])];
}

/** @param {WrapGrid} grid @param {number} u @param {number} v sheet mm @returns {[number, number]} x in mm, θ in rad */
export function wrapThrough(grid, u, v) {
  const [i, a] = cellOf(grid.u, u);
  const [j, b] = cellOf(grid.v, v);
  const wide = grid.v.length;
  const k = i * wide + j;
  const mix = (/** @type {Float32Array} */ f) => (f[k] * (1 - b) + f[k + 1] * b) * (1 - a) + (f[k + wide] * (1 - b) + f[k + wide + 1] * b) * a;
  return [mix(grid.x), mix(grid.theta)];
}

/** A flat grid for art that no plan has laid yet. @param {Facts} facts @returns {WrapGrid} */
export function flatGrid(facts) {
  const [w, h] = [facts.width_mm / 2 || 1, facts.height_mm / 2 || 1];
  const theta = facts.angle_deg * RAD;
  const across = w / Math.max(0.1, facts.r0_mm);
  return {
    u: new Float32Array([-w, w]), v: new Float32Array([-h, h]),
    x: new Float32Array([facts.x_mm - h, facts.x_mm + h, facts.x_mm - h, facts.x_mm + h]),
    theta: new Float32Array([theta - across, theta - across, theta + across, theta + across]),
  };
}

/** What takes a planned place on the sheet to the asked one. @param {Facts} facts as planned @param {any} asked a placement of the document @returns {Carry} */
export function carryTo(facts, asked) {
  const wide = asked.width_mm ? asked.width_mm / facts.width_mm : null;
  const high = asked.height_mm ? asked.height_mm / facts.height_mm : null;
  const [sx, sy] = [wide ?? high ?? 1, high ?? wide ?? 1];
  const turn = asked.turn_deg ?? 0;
  const [c0, s0] = [Math.cos(facts.turn_deg * RAD), Math.sin(facts.turn_deg * RAD)];
  const [c1, s1] = [Math.cos(turn * RAD), Math.sin(turn * RAD)];
  return {
    m: [c1 * sx * c0 + s1 * sy * s0, c1 * sx * s0 - s1 * sy * c0, s1 * sx * c0 - c1 * sy * s0, s1 * sx * s0 + c1 * sy * c0],
    dx: asked.x_mm - facts.x_mm, dTheta: ((asked.angle_deg ?? 0) - facts.angle_deg) * RAD,
    width: facts.width_mm * sx, height: facts.height_mm * sy, turn,
  };
}

/** @param {WrapGrid} grid @param {Carry} carry @param {number} u @param {number} v as planned @returns {[number, number]} x, θ as asked */
export function carried(grid, carry, u, v) {
  const [x, theta] = wrapThrough(grid, carry.m[0] * u + carry.m[1] * v, carry.m[2] * u + carry.m[3] * v);
  return [x + carry.dx, theta + carry.dTheta];
}

/**
 * A place of the asked box on the skin: shares of its width and height from its middle, turned as asked.
 * @param {WrapGrid} grid @param {Carry} carry @param {number} a @param {number} b −0.5 … 0.5 inside @returns {[number, number]}
 */
export function boxPlace(grid, carry, a, b) {
  const [c, s] = [Math.cos(carry.turn * RAD), Math.sin(carry.turn * RAD)];
  const [u, v] = [a * carry.width, b * carry.height];
  const [x, theta] = wrapThrough(grid, c * u - s * v, s * u + c * v);
  return [x + carry.dx, theta + carry.dTheta];
}
