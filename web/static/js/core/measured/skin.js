// @ts-check
/**
 * A measured skin as the plots read it, made once from what the server answers: radius, sigma and known on a grid of
 * m stations and n even angles from 0, row after row, and what follows for each station. Pure.
 * @typedef {{ x: Float64Array, deg: Float64Array, radius: Float64Array, residual: Float64Array, state: string[] }} Readings
 * @typedef {{
 *   x: Float64Array, m: number, n: number, radius: Float64Array, sigma: Float64Array, known: Uint8Array,
 *   mean: Float64Array, least: Float64Array, most: Float64Array, doubt: Float64Array,
 *   runout: Float64Array, runoutDeg: Float64Array, readings: Readings,
 * }} MeasuredSkin  mean, least, most: radii of a station, mm. doubt: the root mean square sigma of a station, mm.
 */

/** @param {number[][]} rows @returns {Float64Array} */
const flat = (rows) => Float64Array.from(rows.flat());

/** @param {{ skin: any, readings?: any }} answer @returns {MeasuredSkin} */
export function measuredOf({ skin, readings }) {
  const x = Float64Array.from(skin.x_mm);
  const [m, n] = [x.length, skin.angle_deg.length];
  const [radius, sigma] = [flat(skin.radius_mm), flat(skin.sigma_mm)];
  const [mean, least, most, doubt] = [0, 1, 2, 3].map(() => new Float64Array(m));
  for (let i = 0; i < m; i += 1) {
    let [sum, low, high, squares] = [0, Infinity, -Infinity, 0];
    for (let k = i * n; k < (i + 1) * n; k += 1) {
      sum += radius[k];
      low = Math.min(low, radius[k]);
      high = Math.max(high, radius[k]);
      squares += sigma[k] ** 2;
    }
    [mean[i], least[i], most[i], doubt[i]] = [sum / n, low, high, Math.sqrt(squares / n)];
  }
  return {
    x, m, n, radius, sigma, mean, least, most, doubt,
    known: Uint8Array.from(skin.known.flat().map(Number)),
    runout: Float64Array.from(skin.runout_mm), runoutDeg: Float64Array.from(skin.runout_deg),
    readings: {
      x: Float64Array.from(readings?.x_mm ?? []), deg: Float64Array.from(readings?.angle_deg ?? []),
      radius: Float64Array.from(readings?.radius_mm ?? []), residual: Float64Array.from(readings?.residual_mm ?? []),
      state: readings?.state ?? [],
    },
  };
}

/** Where a station lies among the grid's own. @param {MeasuredSkin} skin @param {number} xMm @returns {{ i: number, share: number }} between i and i + 1 */
export function stationAt({ x, m }, xMm) {
  let [low, high] = [0, m - 1];
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if (x[mid] <= xMm) low = mid; else high = mid;
  }
  return { i: low, share: m < 2 ? 0 : Math.min(1, Math.max(0, (xMm - x[low]) / (x[low + 1] - x[low]))) };
}

/** @param {MeasuredSkin} skin @param {number} xMm @returns {number} the index of the station nearest to it */
export function nearestStation(skin, xMm) {
  const { i, share } = stationAt(skin, xMm);
  return share > 0.5 ? i + 1 : i;
}

/** @param {MeasuredSkin} skin @param {number} deg @returns {number} the index of the angle nearest to it */
export const nearestAngle = ({ n }, deg) => ((Math.round((deg / 360) * n) % n) + n) % n;

/** A value per station between the stations. @param {MeasuredSkin} skin @param {Float64Array} list @param {number} xMm */
export function along(skin, list, xMm) {
  const { i, share } = stationAt(skin, xMm);
  return skin.m < 2 ? list[0] : list[i] * (1 - share) + list[i + 1] * share;
}

/**
 * What a map shows: the radius itself, how far it lies outside the round profile of the same station means, or sigma.
 * @param {MeasuredSkin} skin @param {'deviation'|'radius'|'sigma'} kind
 * @returns {Float64Array} m × n, mm
 */
export function fieldOf(skin, kind) {
  if (kind === 'sigma') return skin.sigma;
  if (kind === 'radius') return skin.radius;
  return skin.radius.map((r, k) => r - skin.mean[Math.floor(k / skin.n)]);
}

/** What is known at the place of the grid that is nearest. @param {MeasuredSkin} skin @param {number} xMm @param {number} deg */
export function placeAt(skin, xMm, deg) {
  const [i, j] = [nearestStation(skin, xMm), nearestAngle(skin, deg)];
  const k = i * skin.n + j;
  return { i, j, x: skin.x[i], deg: (j * 360) / skin.n, radius: skin.radius[k], deviation: skin.radius[k] - skin.mean[i], sigma: skin.sigma[k], known: skin.known[k] === 1 };
}

/** Counts and spread of the readings. @param {Readings} readings */
export function spreadOf({ x, deg, residual, state }) {
  let [used, left, filled, squares, worst] = [0, 0, 0, 0, -1];
  for (let k = 0; k < state.length; k += 1) {
    if (state[k] === 'left out') left += 1;
    else if (state[k] === 'filled') filled += 1;
    else {
      used += 1;
      squares += residual[k] ** 2;
      if (worst < 0 || Math.abs(residual[k]) > Math.abs(residual[worst])) worst = k;
    }
  }
  return { used, left, filled, rms: used ? Math.sqrt(squares / used) : 0, worst: worst < 0 ? null : { x: x[worst], deg: deg[worst], residual: residual[worst] } };
}
