// @ts-check
/**
 * The skin as the page gets it: radii by [station][angle]; stations rise, angles go evenly round from −180°, periodic.
 * @typedef {{ x: Float32Array, angles: number, radii: Float32Array }} Skin
 */

const TURN = 2 * Math.PI;

/** @param {Skin} skin @param {number} xMm @returns {[number, number]} row and share towards the next */
function rowOf({ x }, xMm) {
  let [low, high] = [0, x.length - 2];
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if (x[mid] <= xMm) low = mid; else high = mid - 1;
  }
  return [low, Math.min(1, Math.max(0, (xMm - x[low]) / Math.max(1e-9, x[low + 1] - x[low])))];
}

/** @param {Skin} skin @param {number} xMm @param {number} theta @returns {number} radius in mm, bilinear */
export function radiusAt(skin, xMm, theta) {
  const [i, a] = rowOf(skin, xMm);
  const turn = (theta + Math.PI) / TURN;
  const ft = (turn - Math.floor(turn)) * skin.angles;
  const j = Math.floor(ft) % skin.angles;
  const k = (j + 1) % skin.angles;
  const b = ft - Math.floor(ft);
  const row = i * skin.angles;
  const next = row + skin.angles;
  const { radii } = skin;
  return (radii[row + j] * (1 - b) + radii[row + k] * b) * (1 - a) + (radii[next + j] * (1 - b) + radii[next + k] * b) * a;
}

/** @param {Skin} skin @returns {{ least: number, most: number, widest: number }} radii; `widest` is the greatest mean of a ring */
export function extremes({ radii, angles, x }) {
  let [least, most, widest] = [Infinity, 0, 0];
  for (let i = 0; i < x.length; i += 1) {
    let sum = 0;
    for (let j = 0; j < angles; j += 1) {
      const r = radii[i * angles + j];
      least = Math.min(least, r);
      most = Math.max(most, r);
      sum += r;
    }
    widest = Math.max(widest, sum / angles);
  }
  return { least, most, widest };
}

/** @param {Skin} skin @param {number} low @param {number} high @returns {number} greatest radius between two stations */
export function greatestBetween(skin, low, high) {
  let most = Math.max(radiusAt(skin, low, 0), radiusAt(skin, high, 0));
  for (let i = 0; i < skin.x.length; i += 1) {
    if (skin.x[i] < low || skin.x[i] > high) continue;
    for (let j = 0; j < skin.angles; j += 1) most = Math.max(most, skin.radii[i * skin.angles + j]);
  }
  return most;
}

/**
 * The mesh of the skin with its two ends closed: per vertex position, normal, and (x, θ).
 * @param {Skin} skin @returns {{ vertices: Float32Array, indices: Uint32Array, stride: number }}
 */
export function meshOf(skin) {
  const { x, angles, radii } = skin;
  const stations = x.length;
  const stride = 8;
  const ring = angles + 1;
  const vertices = new Float32Array((stations * ring + 2 * (ring + 1)) * stride);
  const indices = new Uint32Array((stations - 1) * angles * 6 + 2 * angles * 3);
  const dt = TURN / angles;
  let at = 0;
  const vertex = (/** @type {number} */ px, /** @type {number} */ r, /** @type {number} */ theta, /** @type {number[]} */ n) => {
    const size = Math.hypot(n[0], n[1], n[2]) || 1;
    vertices.set([px, r * Math.cos(theta), r * Math.sin(theta), n[0] / size, n[1] / size, n[2] / size, px, theta], at);
    at += stride;
  };
  for (let i = 0; i < stations; i += 1) {
    const [lo, hi] = [Math.max(0, i - 1), Math.min(stations - 1, i + 1)];
    for (let j = 0; j <= angles; j += 1) {
      const col = j % angles;
      const r = radii[i * angles + col];
      const slopeX = (radii[hi * angles + col] - radii[lo * angles + col]) / Math.max(1e-6, x[hi] - x[lo]);
      const slopeT = (radii[i * angles + ((col + 1) % angles)] - radii[i * angles + ((col + angles - 1) % angles)]) / (2 * dt);
      const theta = -Math.PI + j * dt;
      const [c, s] = [Math.cos(theta), Math.sin(theta)];
      vertex(x[i], r, theta, [-slopeX * r, r * c + slopeT * s, r * s - slopeT * c]);
    }
  }
  let to = 0;
  const face = (/** @type {number[]} */ corners) => { indices.set(corners, to); to += 3; };
  for (let i = 0; i < stations - 1; i += 1) {
    for (let j = 0; j < angles; j += 1) {
      const a = i * ring + j;
      const b = a + ring;
      face([a, b, a + 1]);
      face([a + 1, b, b + 1]);
    }
  }
  for (const [row, sign] of [[0, -1], [stations - 1, 1]]) {
    const first = at / stride;
    for (let j = 0; j <= angles; j += 1) vertex(x[row], radii[row * angles + (j % angles)], -Math.PI + j * dt, [sign, 0, 0]);
    vertex(x[row], 0, 0, [sign, 0, 0]);
    for (let j = 0; j < angles; j += 1) face([first + ring, first + j, first + j + 1]);
  }
  return { vertices, indices, stride };
}
