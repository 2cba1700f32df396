// @ts-check
/** Pictures that are read for their light and dark, laid on the sheet under the strokes. */
import { TURN, toScreen } from '../../core/chart.js';
import { carried } from '../../core/warp.js';
import { rgb } from '../dom.js';

/** Darkness as a picture in one ink, kept as long as the plan's arrays live. @type {WeakMap<Uint8Array, { canvas: HTMLCanvasElement, ink: string }>} */
const tonePictures = new WeakMap();

/** @param {{ cells: Uint8Array, side: number }} tone @param {string} ink @returns {HTMLCanvasElement} */
function tonePicture({ cells, side }, ink) {
  const held = tonePictures.get(cells);
  if (held?.ink === ink) return held.canvas;
  const canvas = document.createElement('canvas');
  canvas.width = side;
  canvas.height = side;
  const g = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d'));
  const picture = g.createImageData(side, side);
  const [red, green, blue] = rgb(ink).map((part) => 255 * part);
  cells.forEach((dark, k) => picture.data.set([red, green, blue, dark], 4 * k));
  g.putImageData(picture, 0, 0);
  tonePictures.set(cells, { canvas, ink });
  return canvas;
}

/** A picture that is read for its light and dark, laid cell by cell of its piece's grid. @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {boolean} faint */
export function paintTones({ pieces, chart, view, ink, store, dpr }, g, faint) {
  const { tones } = store.state.view;
  for (const piece of pieces) {
    const tone = piece.planned ? tones.get(piece.k) : null;
    if (!tone) continue;
    const picture = tonePicture(tone, ink.ink);
    const { grid } = piece;
    const [m, n] = [grid.u.length, grid.v.length];
    const [wide, high] = [tone.side / (m - 1), tone.side / (n - 1)];
    g.globalAlpha = faint ? 0.25 : 0.9;
    for (const turns of piece.turns) {
      const on = (/** @type {number} */ i, /** @type {number} */ j) => {
        const [x, theta] = carried(grid, piece.carry, grid.u[i], grid.v[j]);
        return toScreen(chart, view, x, theta + turns * TURN);
      };
      for (let i = 0; i + 1 < m; i += 1) {
        for (let j = 0; j + 1 < n; j += 1) {
          const [o, a, b] = [on(i, j + 1), on(i + 1, j + 1), on(i, j)]; // upper left, upper right, lower left
          g.setTransform(dpr * (a[0] - o[0]) / wide, dpr * (a[1] - o[1]) / wide, dpr * (b[0] - o[0]) / high, dpr * (b[1] - o[1]) / high, dpr * o[0], dpr * o[1]);
          g.drawImage(picture, i * wide, (n - 2 - j) * high, wide, high, 0, 0, wide, high);
        }
      }
    }
  }
  g.globalAlpha = 1;
  g.setTransform(dpr, 0, 0, dpr, 0, 0);
}
