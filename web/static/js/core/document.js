// @ts-check
/** The job document as a plain value: reading, changing by JSON pointer (RFC 6901), and which operation a place belongs to. */

/** @param {string} pointer @returns {string[]} */
export const partsOf = (pointer) => pointer.split('/').slice(1).map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'));

/** @param {any} doc @param {string} pointer @returns {any} undefined where nothing stands there */
export const valueAt = (doc, pointer) => partsOf(pointer).reduce((here, part) => here?.[part], doc);

/**
 * The document with one place changed; what is beside it is shared. `undefined` removes the place.
 * @param {any} doc @param {string} pointer @param {unknown} value @returns {any}
 */
export function withValue(doc, pointer, value) {
  const [part, ...rest] = partsOf(pointer);
  if (part === undefined) return value;
  const inner = rest.length ? withValue(doc?.[part] ?? {}, rest.map((one) => `/${one}`).join(''), value) : value;
  if (Array.isArray(doc)) {
    const next = [...doc];
    if (inner === undefined) next.splice(Number(part), 1); else next[Number(part)] = inner;
    return next;
  }
  const next = { ...doc };
  if (inner === undefined) delete next[part]; else next[part] = inner;
  return next;
}

const MARKING = new Set(['marking', 'depth_mm', 'passes', 'step_mm', 'direction', 'level_mm']);

/** @param {string} pointer @returns {'blank'|'artwork'|'placement'|'marking'|'tool'} the operation whose form holds the place */
export function operationOf(pointer) {
  const [first, , third] = partsOf(pointer);
  if (first === 'blank') return 'blank';
  if (first === 'tools' || first === 'machine') return 'tool';
  if (first !== 'artwork' || third === undefined || third === 'asset' || third === 'tone' || third === 'name' || third === 'text' || third === 'drawing' || third === 'picture' || third === 'border') return 'artwork';
  return third === 'placement' || third === 'repeat' ? 'placement' : MARKING.has(third) ? 'marking' : 'tool';
}

/** @param {string|undefined} pointer @returns {number|null} which piece of art a place belongs to */
export function artOf(pointer) {
  const [first, second] = partsOf(pointer ?? '');
  return first === 'artwork' && second !== undefined ? Number(second) : null;
}

/** @returns {any} the least job that a person can begin from */
export const emptyJob = () => ({
  schema: 'roundwright.job/1', name: 'New job', blank: { shape: 'cylinder', diameter_mm: 40, length_mm: 90 }, artwork: [],
});

/** What every shape may say beside its measures. @param {any} blank @returns {any} */
export function sharedOf({ material, wall_mm, wall_min_mm, keep_out, seam_deg, radius_error_mm }) {
  return Object.fromEntries(Object.entries({ material, wall_mm, wall_min_mm, keep_out, seam_deg, radius_error_mm }).filter(([, value]) => value !== undefined));
}

/**
 * The same blank told as another shape: what the shapes share is kept, measures are taken over as far as they can be.
 * @param {any} blank @param {string} shape @returns {any}
 */
export function reshaped(blank, shape) {
  if (blank.shape === shape) return blank;
  const stations = blank.stations ?? [];
  const widest = Math.max(0, ...stations.map((/** @type {any} */ one) => one.diameter_mm));
  const diameter = blank.diameter_mm ?? blank.breadth_mm ?? (widest || 40);
  const length = blank.length_mm ?? (stations.length > 1 ? stations.at(-1).x_mm - stations[0].x_mm : 90);
  const tidy = (/** @type {number} */ mm) => Math.round(mm * 1000) / 1000;
  const measures = {
    cylinder: { diameter_mm: diameter, length_mm: length },
    cone: { diameter_mm: diameter, end_diameter_mm: tidy(blank.end_diameter_mm ?? diameter * 0.8), length_mm: length },
    ovoid: { length_mm: length, breadth_mm: diameter, shift_mm: tidy(length * 0.03), quarter_diameter_mm: tidy(diameter * 0.79) },
    stations: { stations: [{ x_mm: 0, diameter_mm: diameter }, { x_mm: tidy(length / 2), diameter_mm: diameter }, { x_mm: length, diameter_mm: tidy(blank.end_diameter_mm ?? diameter) }] },
  }[shape];
  return { shape, ...measures, ...sharedOf(blank) };
}

/**
 * Rows of numbers pasted from a spreadsheet: columns parted by tabs, semicolons, commas or spaces; a heading is left out.
 * @param {string} text @param {number} columns @returns {number[][]} rows that hold as many numbers as asked
 */
export function rowsOf(text, columns) {
  return text.split(/\r?\n/)
    .map((line) => line.trim().split(/[\t;]|,\s*|\s+/).filter((cell) => cell !== '').map(Number))
    .filter((row) => row.length >= columns && row.slice(0, columns).every(Number.isFinite))
    .map((row) => row.slice(0, columns));
}
