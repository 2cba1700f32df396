// @ts-check
/**
 * A turntable camera about the blank's axis: +X is up, azimuth is the θ that faces the viewer.
 * @typedef {{ azimuth: number, elevation: number, distance: number, panX: number, panY: number }} Camera
 * @typedef {{ right: number[], up: number[], back: number[], eye: number[], viewProjection: Float32Array, mmPerPx: number }} Sight
 */

export const FIELD_OF_VIEW = (24 * Math.PI) / 180;
const QUARTER = Math.PI / 2;

/** @type {Readonly<Record<string, { azimuth: number, elevation: number }>>} */
export const PRESETS = Object.freeze({
  front: { azimuth: 0, elevation: 0.14 },
  back: { azimuth: Math.PI, elevation: 0.14 },
  low: { azimuth: 0, elevation: -QUARTER },
  high: { azimuth: 0, elevation: QUARTER },
});

/** @param {number} a @returns {number} in [−π, π) */
export const wrapAngle = (a) => a - 2 * Math.PI * Math.floor((a + Math.PI) / (2 * Math.PI));

/** @param {Camera} c @param {number} dAzimuth @param {number} dElevation @returns {Camera} */
export const orbit = (c, dAzimuth, dElevation) => ({
  ...c,
  azimuth: wrapAngle(c.azimuth + dAzimuth),
  elevation: Math.min(QUARTER, Math.max(-QUARTER, c.elevation + dElevation)),
});

/** @param {Camera} c @param {number} factor @param {number} bodyMm @returns {Camera} */
export const dolly = (c, factor, bodyMm) => ({ ...c, distance: Math.min(bodyMm * 8, Math.max(bodyMm * 0.35, c.distance / factor)) });

/** @param {Camera} c @param {number} dx @param {number} dy mm in the picture plane @param {number} bodyMm @returns {Camera} */
export const slide = (c, dx, dy, bodyMm) => ({
  ...c,
  panX: Math.min(bodyMm, Math.max(-bodyMm, c.panX + dx)),
  panY: Math.min(bodyMm, Math.max(-bodyMm, c.panY + dy)),
});

/** Distance at which a body of the given height and width fills the picture. @param {number} highMm @param {number} wideMm @param {number} aspect */
export function fitDistance(highMm, wideMm, aspect) {
  const half = Math.tan(FIELD_OF_VIEW / 2);
  return Math.max(highMm / 2 / half, wideMm / 2 / half / aspect) + wideMm / 2;
}

/** @param {Camera} from @param {Camera} to @param {number} t 0 … 1 @returns {Camera} by the short way round */
export function between(from, to, t) {
  const ease = t * t * (3 - 2 * t);
  /** @param {number} a @param {number} b */
  const mix = (a, b) => a + (b - a) * ease;
  return {
    azimuth: wrapAngle(from.azimuth + wrapAngle(to.azimuth - from.azimuth) * ease),
    elevation: mix(from.elevation, to.elevation),
    distance: mix(from.distance, to.distance),
    panX: mix(from.panX, to.panX),
    panY: mix(from.panY, to.panY),
  };
}

/** @param {Camera} c @param {number} centreMm station looked at @param {number} width @param {number} height @returns {Sight} */
export function look(c, centreMm, width, height) {
  const [ca, sa, ce, se] = [Math.cos(c.azimuth), Math.sin(c.azimuth), Math.cos(c.elevation), Math.sin(c.elevation)];
  const right = [0, -sa, ca];
  const up = [ce, -se * ca, -se * sa];
  const back = [se, ce * ca, ce * sa];
  const eye = [0, 1, 2].map((i) => (i === 0 ? centreMm : 0) - right[i] * c.panX - up[i] * c.panY + back[i] * c.distance);
  /** @param {number[]} a */
  const toEye = (a) => -(a[0] * eye[0] + a[1] * eye[1] + a[2] * eye[2]);
  const aspect = width / Math.max(1, height);
  const f = 1 / Math.tan(FIELD_OF_VIEW / 2);
  const near = Math.max(1, c.distance * 0.05);
  const far = c.distance * 4 + 400;
  const depthA = (far + near) / (near - far);
  const depthB = (2 * far * near) / (near - far);
  const viewProjection = new Float32Array(16);
  for (let column = 0; column < 4; column += 1) {
    /** @param {number[]} axis */
    const part = (axis) => (column < 3 ? axis[column] : toEye(axis));
    viewProjection[column * 4] = (f / aspect) * part(right);
    viewProjection[column * 4 + 1] = f * part(up);
    viewProjection[column * 4 + 2] = depthA * part(back) + (column === 3 ? depthB : 0);
    viewProjection[column * 4 + 3] = -part(back);
  }
  return { right, up, back, eye, viewProjection, mmPerPx: (2 * c.distance * Math.tan(FIELD_OF_VIEW / 2)) / Math.max(1, height) };
}

/** @param {Float32Array} m @param {readonly number[]} p @returns {[number, number, number]} clip x, y in −1 … 1 and w */
export function project(m, p) {
  const w = m[3] * p[0] + m[7] * p[1] + m[11] * p[2] + m[15];
  return [(m[0] * p[0] + m[4] * p[1] + m[8] * p[2] + m[12]) / w, (m[1] * p[0] + m[5] * p[1] + m[9] * p[2] + m[13]) / w, w];
}
