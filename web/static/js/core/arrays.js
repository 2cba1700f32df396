// @ts-check
/**
 * The binary form in which the server sends the previews: four bytes of header length, a JSON header, then plain
 * little-endian arrays. And what the page makes of them.
 */

const KINDS = { '<f4': Float32Array, '<f8': Float64Array, '<u4': Uint32Array, '<i4': Int32Array, '<u2': Uint16Array, '|u1': Uint8Array, '<u1': Uint8Array };

/**
 * @param {ArrayBuffer} bytes @returns {{ meta: any, arrays: Record<string, any>, shapes: Record<string, number[]> }}
 * Throws where the bytes are not such a package.
 */
export function unpack(bytes) {
  const size = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, size)));
  /** @type {Record<string, any>} */
  const arrays = {};
  /** @type {Record<string, number[]>} */
  const shapes = {};
  for (const { name, dtype, shape, at } of head.arrays) {
    const Kind = KINDS[/** @type {keyof typeof KINDS} */ (dtype)];
    if (!Kind) throw new RangeError(`unknown kind of number ${dtype}`);
    const count = shape.reduce((/** @type {number} */ product, /** @type {number} */ n) => product * n, 1);
    const from = 4 + size + at;
    arrays[name] = from % Kind.BYTES_PER_ELEMENT === 0 ? new Kind(bytes, from, count) : new Kind(bytes.slice(from, from + count * Kind.BYTES_PER_ELEMENT));
    shapes[name] = shape;
  }
  return { meta: head.meta, arrays, shapes };
}

/**
 * The previews as the views use them. What has not come yet (the program and the carving, before the proof) is null.
 * @param {{ meta: any, arrays: Record<string, any>, shapes: Record<string, number[]> }} got
 */
export function viewOf({ meta, arrays: a, shapes }) {
  const items = shapes.wrap_u?.[0] ?? 0;
  const nodes = shapes.wrap_u?.[1] ?? 0;
  const part = (/** @type {Float32Array} */ all, /** @type {number} */ k, /** @type {number} */ size) => all.subarray(k * size, (k + 1) * size);
  const grids = Array.from({ length: items }, (_, k) => ({ u: part(a.wrap_u, k, nodes), v: part(a.wrap_v, k, nodes), x: part(a.wrap_x, k, nodes * nodes), theta: part(a.wrap_theta, k, nodes * nodes), told: a.stretch_rad ? { greatest: part(a.stretch_greatest, k, nodes * nodes), least: part(a.stretch_least, k, nodes * nodes), turn: part(a.stretch_rad, k, nodes * nodes) } : null }));
  const seconds = a.move_end_s?.length ? a.move_end_s[a.move_end_s.length - 1] : 0;
  return {
    meta, grids, seconds,
    skin: { x: a.skin_x, angles: a.skin_theta.length, radii: a.skin_r },
    art: { points: a.art_uv ?? new Float32Array(0), offsets: a.art_offset ?? new Uint32Array(1), item: a.art_item ?? new Uint16Array(0), like: a.art_like ?? null, open: a.art_open ?? null },
    tones: new Map(Array.from(a.tone_item ?? [], (k, i) => [k, tonePart(a.tone_cells, shapes.tone_cells, i)])),
    strokes: a.stroke_x ? { x: a.stroke_x, theta: a.stroke_theta, offsets: a.stroke_offset, item: a.stroke_item, number: a.stroke_number ?? null } : null,
    moves: a.move_end_s?.length ? { x: a.move_x, theta: a.move_theta, r: a.move_r, kind: a.move_kind, stroke: a.move_stroke, line: a.move_line, end: a.move_end_s, last: a.move_stroke.reduce((/** @type {number} */ most, /** @type {number} */ one) => Math.max(most, one), 0) } : null,
    carved: a.carved_depth?.length ? { x: a.carved_x, theta: a.carved_theta, depth: a.carved_depth, greatest: meta.depth_mm || greatestOf(a.carved_depth) } : null,
  };
}

/** One picture of several. @param {Uint8Array} cells @param {number[]} shape @param {number} i @returns {{ cells: Uint8Array, side: number }} */
const tonePart = (cells, [, side], i) => ({ cells: cells.subarray(i * side * side, (i + 1) * side * side), side });

/** @param {Float32Array} values */
function greatestOf(values) {
  let most = 0;
  for (const value of values) if (value > most) most = value;
  return most;
}

/**
 * Where the tool is at a moment of the program.
 * @param {{ x: Float32Array, theta: Float32Array, r: Float32Array, kind: Uint8Array, stroke: Uint32Array, line: Uint32Array, end: Float32Array }} moves
 * @param {number} seconds @returns {{ x: number, theta: number, r: number, stroke: number, line: number, kind: number, move: number }}
 */
export function momentAt(moves, seconds) {
  let [low, high] = [0, moves.end.length - 1];
  while (low < high) {
    const mid = (low + high) >> 1;
    if (moves.end[mid] >= seconds) high = mid; else low = mid + 1;
  }
  const from = Math.max(0, low - 1);
  const span = moves.end[low] - moves.end[from];
  const share = low === from || span <= 0 ? 1 : Math.min(1, Math.max(0, (seconds - moves.end[from]) / span));
  const mix = (/** @type {Float32Array} */ f) => f[from] + (f[low] - f[from]) * share;
  return { x: mix(moves.x), theta: mix(moves.theta), r: mix(moves.r), stroke: moves.stroke[low], line: moves.line[low], kind: moves.kind[low], move: low };
}

/** The second at which a stroke begins, or a line is run. @param {any} moves @param {{ stroke?: number, line?: number }} where @returns {number|null} */
export function secondOf(moves, where) {
  const [list, wanted] = where.line !== undefined ? [moves.line, where.line] : [moves.stroke, where.stroke];
  if (wanted === undefined) return null;
  const at = list.indexOf(wanted);
  return at < 0 ? null : moves.end[at];
}
