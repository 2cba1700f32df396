// @ts-check
/**
 * The skin unrolled: x runs to the right, as in the profile above it, and the angle runs down from −180° to 180°, so
 * that the map is the drafting sheet turned by a quarter, not mirrored. Colours are painted as pixels. Pure.
 */
import { axisMarks, createAxes, readingMarks } from './axes.js';
import { stationAt } from './skin.js';
import { unitName } from '../units.js';

/** @param {number} deg @returns {number} in [−180, 180) */
const wrapped = (deg) => ((((deg + 180) % 360) + 360) % 360) - 180;

/** @param {import('./skin.js').MeasuredSkin} skin @param {number} width @param {number} height px */
export const mapAxes = (skin, width, height) => createAxes(width, height, [skin.x[0], skin.x[skin.m - 1]], [180, -180]);

const HATCH_PX = 7;

/**
 * The pixels of a field between its grid's places; where more of a place is not known than known it is hatched.
 * @param {import('./skin.js').MeasuredSkin} skin @param {Float64Array} field m × n
 * @param {import('./ramp.js').Scale} scale @param {{ width: number, height: number, hatch: readonly [number, number, number] }} how pixels and the hatch's colour, 0 … 255
 * @returns {Uint8ClampedArray} rgba, width × height
 */
export function paint(skin, field, { colours, low, high }, { width, height, hatch }) {
  const pixels = new Uint8ClampedArray(width * height * 4);
  const { n, m, known, x } = skin;
  const columns = Array.from({ length: width }, (_, px) => stationAt(skin, x[0] + ((px + 0.5) / width) * (x[m - 1] - x[0])));
  const from = Int32Array.from(columns, ({ i }) => i * n);
  const share = Float64Array.from(columns, (one) => one.share);
  const step = m < 2 ? 0 : n;
  const per = 255 / (high - low);
  let to = 0;
  for (let py = 0; py < height; py += 1) {
    const turn = (((py + 0.5) / height + 0.5) % 1) * n;
    const j = Math.floor(turn) % n;
    const k = (j + 1) % n;
    const b = turn - Math.floor(turn);
    for (let px = 0; px < width; px += 1) {
      const [row, a] = [from[px], share[px]];
      const next = row + step;
      const seen = (known[row + j] * (1 - b) + known[row + k] * b) * (1 - a) + (known[next + j] * (1 - b) + known[next + k] * b) * a;
      const value = (field[row + j] * (1 - b) + field[row + k] * b) * (1 - a) + (field[next + j] * (1 - b) + field[next + k] * b) * a;
      const lined = seen < 0.5 && (px + py) % HATCH_PX < 2;
      const at = lined ? 0 : Math.min(255, Math.max(0, Math.round((value - low) * per))) * 3;
      pixels[to] = lined ? hatch[0] : colours[at];
      pixels[to + 1] = lined ? hatch[1] : colours[at + 1];
      pixels[to + 2] = lined ? hatch[2] : colours[at + 2];
      pixels[to + 3] = 255;
      to += 4;
    }
  }
  return pixels;
}

/**
 * What lies over the pixels: axes, readings, and a line at each chosen section.
 * @param {import('./skin.js').MeasuredSkin} skin @param {import('./axes.js').Axes} axes @param {'mm'|'inch'} unit
 * @returns {import('./axes.js').Mark[]}
 */
export function mapMarks(skin, axes, unit) {
  const { readings } = skin;
  return [
    ...axisMarks(axes, { xTitle: `station x, ${unitName(unit)}`, yTitle: 'angle, °', unit, plainY: true, ticksY: [-180, -90, 0, 90, 180] }),
    ...readingMarks(readings, (k) => [axes.px(readings.x[k]), axes.py(wrapped(readings.deg[k]))]),
  ];
}

/** The lines at the chosen stations, over the map or the profile. @param {readonly number[]} stations mm @param {import('./axes.js').Axes} axes @returns {import('./axes.js').Mark[]} */
export const stationMarks = (stations, { px, box }) => stations.flatMap((x, order) => /** @type {import('./axes.js').Mark[]} */ ([
  ['line', { class: `station s${order + 1}`, x1: px(x), x2: px(x), y1: box.top, y2: box.bottom }],
  ['text', { class: 'station-name', x: px(x) + 4, y: box.top + 12 }, String(order + 1)],
]));
