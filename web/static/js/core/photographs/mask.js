// @ts-check
/**
 * The body in a photograph from its field of distances to the background: what stands farther off than a threshold, with
 * what a person has added and taken away, its holes filled, the largest piece. As the server finds it, so that a slider
 * can show it at once; the edge itself always comes from the server.
 *
 * @typedef {[number, number]} Point
 * @typedef {{ width: number, height: number, scale_px: number, per_level: number, levels: Uint8Array }} Field cells of `scale_px` pixels
 */

/** @param {{ width: number, height: number, scale_px: number, per_level: number, data: string }} told @returns {Field} */
export function fieldOf({ width, height, scale_px, per_level, data }) {
  const text = atob(data);
  const levels = new Uint8Array(width * height);
  for (let i = 0; i < levels.length; i += 1) levels[i] = text.charCodeAt(i);
  return { width, height, scale_px, per_level, levels };
}

/**
 * Calls `fill(row, from, to)` for each run of cells whose middles lie inside a polygon (even-odd).
 * @param {Point[]} corners px @param {Field} field @param {(row: number, from: number, to: number) => void} fill
 */
export function runsIn(corners, { width, height, scale_px }, fill) {
  for (let row = 0; row < height; row += 1) {
    const y = (row + 0.5) * scale_px;
    const cuts = [];
    for (let i = 0; i < corners.length; i += 1) {
      const [ax, ay] = corners[i];
      const [bx, by] = corners[(i + 1) % corners.length];
      if ((ay <= y) !== (by <= y)) cuts.push(ax + ((y - ay) * (bx - ax)) / (by - ay));
    }
    cuts.sort((a, b) => a - b);
    for (let i = 0; i + 1 < cuts.length; i += 2) {
      const from = Math.max(0, Math.ceil(cuts[i] / scale_px - 0.5));
      const to = Math.min(width, Math.ceil(cuts[i + 1] / scale_px - 0.5));
      if (from < to) fill(row, from, to);
    }
  }
}

/**
 * 1 where the body is, else 0, one a cell.
 * @param {Field} field @param {number} threshold @param {Point[][]} include @param {Point[][]} exclude @returns {Uint8Array}
 */
export function bodyOf(field, threshold, include, exclude) {
  const { levels, per_level } = field;
  const mask = new Uint8Array(levels.length);
  for (let i = 0; i < mask.length; i += 1) mask[i] = levels[i] * per_level > threshold ? 1 : 0;
  for (const [lassos, value] of /** @type {[Point[][], number][]} */ ([[include, 1], [exclude, 0]])) {
    for (const corners of lassos) runsIn(corners, field, (row, from, to) => mask.fill(value, row * field.width + from, row * field.width + to));
  }
  return largest(filled(mask, field), field);
}

/** The mask with its holes closed: what the border cannot reach belongs to the body. @param {Uint8Array} mask @param {{ width: number, height: number }} size */
function filled(mask, { width, height }) {
  const out = mask.slice();
  const line = new Int32Array(mask.length);
  let count = 0;
  const reach = (/** @type {number} */ i) => { if (out[i] === 0) { out[i] = 2; line[count] = i; count += 1; } };
  for (let x = 0; x < width; x += 1) { reach(x); reach((height - 1) * width + x); }
  for (let y = 0; y < height; y += 1) { reach(y * width); reach(y * width + width - 1); }
  spread(line, () => count, width, height, reach);
  for (let i = 0; i < out.length; i += 1) out[i] = out[i] === 2 ? 0 : 1;
  return out;
}

/** The largest piece of a mask alone; of equals the first. @param {Uint8Array} mask @param {{ width: number, height: number }} size */
function largest(mask, { width, height }) {
  const name = new Int32Array(mask.length);
  const line = new Int32Array(mask.length);
  let [best, most, names] = [0, 0, 0];
  for (let start = 0; start < mask.length; start += 1) {
    if (mask[start] === 0 || name[start] !== 0) continue;
    names += 1;
    let count = 0;
    const reach = (/** @type {number} */ i) => { if (mask[i] === 1 && name[i] === 0) { name[i] = names; line[count] = i; count += 1; } };
    reach(start);
    spread(line, () => count, width, height, reach);
    if (count > most) [best, most] = [names, count];
  }
  return mask.map((_, i) => (best !== 0 && name[i] === best ? 1 : 0));
}

/** Goes from each cell of the line to its four neighbours. @param {Int32Array} line @param {() => number} length @param {number} width @param {number} height @param {(i: number) => void} reach */
function spread(line, length, width, height, reach) {
  for (let at = 0; at < length(); at += 1) {
    const i = line[at];
    const x = i % width;
    if (x > 0) reach(i - 1);
    if (x < width - 1) reach(i + 1);
    if (i >= width) reach(i - width);
    if (i < (height - 1) * width) reach(i + width);
  }
}

/** A mask as pixels of one colour. @param {Uint8Array} mask @param {[number, number, number, number]} colour 0 … 255 @returns {Uint8ClampedArray} RGBA */
export function tinted(mask, [r, g, b, a]) {
  const out = new Uint8ClampedArray(mask.length * 4);
  for (let i = 0; i < mask.length; i += 1) if (mask[i]) { out[i * 4] = r; out[i * 4 + 1] = g; out[i * 4 + 2] = b; out[i * 4 + 3] = a; }
  return out;
}
