// @ts-check
/** Solids of revolution for the wrapped view: what is not the skin, told as profiles of pairs (along, radius). */

/** @typedef {readonly (readonly [number, number])[]} Profile */

/**
 * A profile spun about its axis, with creases where it turns sharply.
 * @param {Profile} profile @param {number} around @returns {Float32Array} triangles: position and normal
 */
export function turned(profile, around) {
  const out = [];
  for (let i = 0; i < profile.length - 1; i += 1) {
    const [[xa, ra], [xb, rb]] = [profile[i], profile[i + 1]];
    const size = Math.hypot(xb - xa, rb - ra) || 1;
    const [nx, nr] = [-(rb - ra) / size, (xb - xa) / size];
    for (let j = 0; j < around; j += 1) {
      for (const [x, r, k] of [[xa, ra, j], [xb, rb, j], [xa, ra, j + 1], [xa, ra, j + 1], [xb, rb, j], [xb, rb, j + 1]]) {
        const [c, s] = [Math.cos((k / around) * 2 * Math.PI), Math.sin((k / around) * 2 * Math.PI)];
        out.push(x, r * c, r * s, nx, nr * c, nr * s);
      }
    }
  }
  return new Float32Array(out);
}

/** @param {Float32Array[]} parts @returns {Float32Array} one after the other */
export function joined(parts) {
  const out = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  parts.reduce((at, part) => { out.set(part, at); return at + part.length; }, 0);
  return out;
}

/**
 * A tool's profile from the tip up: a cone with its flat, a ball or a flat end, then the shank.
 * @param {{ form: string, diameter_mm: number, tip_mm: number, angle_deg: number }} tool @param {number} longMm @returns {[number, number][]}
 */
export function toolProfile(tool, longMm) {
  const outer = tool.diameter_mm / 2;
  if (tool.form === 'ball') {
    const arc = Array.from({ length: 13 }, (_, k) => /** @type {[number, number]} */ ([outer * (1 - Math.cos((k * Math.PI) / 24)), outer * Math.sin((k * Math.PI) / 24)]));
    return [...arc, [longMm, outer], [longMm, 0]];
  }
  const tip = tool.form === 'flat' ? outer : tool.tip_mm / 2;
  const rise = tool.form === 'flat' ? 0 : (outer - tip) / Math.tan((tool.angle_deg * Math.PI) / 360);
  return [[0, 0], [0, tip], [rise, outer], [Math.max(longMm, rise + 6), outer], [Math.max(longMm, rise + 6), 0]];
}

/** Dashes and dots of an axis line. @param {number} from @param {number} to @param {number} radius @returns {Float32Array} */
export function dashes(from, to, radius) {
  const rods = [];
  for (let x = from; x < to; x += 11) {
    rods.push(turned([[x, radius], [Math.min(to, x + 6.5), radius]], 8));
    if (x + 8.3 < to) rods.push(turned([[x + 8.3, radius], [Math.min(to, x + 9.5), radius]], 8));
  }
  return joined(rods);
}
