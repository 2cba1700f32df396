// @ts-check
/** What lies on the sheet: art, strokes, stretch and the carved proof. */
import { TURN, seamTurns, toScreen } from '../../core/chart.js';
import { inksOf, reliefOf } from '../../core/relief.js';
import { cellStretch, everyNode, extremesOf } from '../../core/stretch.js';
import { rgb } from '../dom.js';
import { frameOf } from './ground.js';
import { placeOf, traceArt } from './pieces.js';
import { paintTones } from './tones.js';

const DIRECT_POINTS = 40000;
const SPRITE_PX = 2048;
const WORST = 0.1;
const EVERY = 2; // nodes from one ellipse to the next
const CIRCLE = 0.4; // of that way, its radius on the sheet
const DARK_GAIN = 1.9; // on the dark sheet a groove is brass in the lamp's light, not a shadow on paper

/** Keeps what is drawn over and over: strokes as paths or pictures, the carving as a picture. @param {() => import('./ground.js').Desk} now */
export function createWork(now) {
  /** @type {any} */
  let kept = null;
  /** @type {HTMLCanvasElement|null} */
  let carving = null;
  /** @type {any} */
  let carvingFor = null;

  /** Strokes of each piece as one path in mm of the sheet, shifted by whole turns to lie by their art. @param {import('./ground.js').Desk} desk */
  function strokesOf({ store, chart }) {
    const { view } = store.state;
    if (kept?.strokes === view.strokes && kept.chart === chart) return kept.list;
    const { x, theta, offsets, item } = view.strokes;
    const list = view.meta.arts.map(() => ({ path: new Path2D(), points: 0, left: Infinity, right: -Infinity, bottom: Infinity, top: -Infinity, sprite: null }));
    const placeOfNumber = new Map(view.meta.arts.map((/** @type {any} */ art, /** @type {number} */ k) => [art.number, k]));
    for (let s = 0; s + 1 < offsets.length; s += 1) {
      const k = placeOfNumber.get(item[s]);
      if (k === undefined) continue;
      const one = list[k];
      const centre = (view.meta.arts[k].angle_deg * Math.PI) / 180;
      const shift = -TURN * Math.round(((theta[offsets[s]] + theta[offsets[s + 1] - 1]) / 2 - centre) / TURN);
      for (let i = offsets[s]; i < offsets[s + 1]; i += 1) {
        const [px, py] = [(theta[i] + shift) * chart.refMm, -x[i]];
        if (i === offsets[s]) one.path.moveTo(px, py); else one.path.lineTo(px, py);
        one.left = Math.min(one.left, px); one.right = Math.max(one.right, px);
        one.bottom = Math.min(one.bottom, x[i]); one.top = Math.max(one.top, x[i]);
      }
      one.points += offsets[s + 1] - offsets[s];
    }
    kept = { strokes: view.strokes, chart, list };
    return list;
  }

  /** The strokes of one piece as a picture, so that a drag need only move it. @param {import('./ground.js').Desk} desk @param {any} one */
  function spriteOf({ ink, view, dpr }, one) {
    const [wide, high] = [one.right - one.left + 1, one.top - one.bottom + 1];
    const k = Math.min(SPRITE_PX / Math.max(wide, high), view.scale * dpr * 1.5);
    const held = one.sprite;
    if (held && held.ink === ink.ink && held.k >= Math.min(k, view.scale * dpr) * 0.7) return held;
    const canvas = document.createElement('canvas');
    canvas.width = Math.ceil(wide * k);
    canvas.height = Math.ceil(high * k);
    const g = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d', { willReadFrequently: true }));
    g.setTransform(k, 0, 0, k, (0.5 - one.left) * k, (one.top + 0.5) * k);
    g.strokeStyle = ink.ink;
    g.lineWidth = Math.max(0.75 / k, 0.02);
    g.stroke(one.path);
    one.sprite = { canvas, k, ink: ink.ink, left: one.left - 0.5, top: -one.top - 0.5, wide: canvas.width / k, high: canvas.height / k };
    return one.sprite;
  }

  /** From the planned sheet, in mm with y down, to the screen. @param {import('./ground.js').Desk} desk @param {any} piece @param {number} turns @returns {[number, number, number, number, number, number]} */
  function strokeMatrix({ chart, view, dpr }, piece, turns) {
    const k = chart.refMm / Math.max(0.1, piece.facts.r0_mm);
    const [a, b, c, d] = [piece.carry.m[0], piece.carry.m[1] * k, piece.carry.m[2] / k, piece.carry.m[3]];
    const [cx, cy] = [(piece.facts.angle_deg * Math.PI / 180) * chart.refMm, -piece.facts.x_mm];
    const [tx, ty] = [cx + piece.carry.dTheta * chart.refMm + turns * chart.aroundMm, cy - piece.carry.dx];
    const s = view.scale * dpr;
    const [m0, m1, m2, m3] = [a, -c, -b, d];
    const left = view.left * dpr - chart.left * chart.refMm * s;
    const top = view.top * dpr + chart.highMm * s;
    return [m0 * s, m1 * s, m2 * s, m3 * s, left + s * (tx - m0 * cx - m2 * cy), top + s * (ty - m1 * cx - m3 * cy)];
  }

  /** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g */
  function paintStrokes(desk, g) {
    const { view } = desk.store.state;
    const list = strokesOf(desk);
    for (const piece of desk.pieces) {
      const one = piece.planned ? list[piece.k] : null;
      if (!one?.points) continue;
      for (const turns of piece.turns) {
        const m = strokeMatrix(desk, piece, turns);
        g.setTransform(...m);
        if (one.points > DIRECT_POINTS || (desk.moving && one.points > DIRECT_POINTS / 8)) {
          const picture = spriteOf(desk, one);
          g.drawImage(picture.canvas, picture.left, picture.top, picture.wide, picture.high);
        } else {
          g.strokeStyle = desk.ink.ink;
          g.lineWidth = (0.9 * desk.dpr) / Math.sqrt(Math.abs(m[0] * m[3] - m[1] * m[2]));
          g.lineJoin = 'round';
          g.stroke(one.path);
        }
      }
    }
    g.setTransform(desk.dpr, 0, 0, desk.dpr, 0, 0);
  }

  /** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {boolean} faint */
  function paintArt(desk, g, faint) {
    const { chart, view, ink, store } = desk;
    for (const piece of desk.pieces) {
      if (!piece.planned) continue;
      for (const turns of piece.turns) {
        const [regions, lines] = [new Path2D(), new Path2D()];
        traceArt(store.state.view, piece, (x, theta, first, open) => { const [px, py] = toScreen(chart, view, x, theta + turns * TURN); const path = open ? lines : regions; if (first) path.moveTo(px, py); else path.lineTo(px, py); });
        g.fillStyle = ink.ink;
        g.globalAlpha = faint ? 0.1 : 0.22;
        g.fill(regions, 'evenodd');
        g.globalAlpha = faint ? 0.35 : 1;
        g.strokeStyle = ink.ink;
        g.lineWidth = faint ? 0.6 : 1;
        g.stroke(regions);
        g.stroke(lines);
        g.globalAlpha = 1;
      }
    }
  }

  /** How far each cell of the art is stretched, and how: small circles of the sheet as they lie on the skin. @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g */
  function paintStretch(desk, g) {
    const { chart, view } = desk;
    for (const piece of desk.pieces) {
      const told = piece.planned ? piece.grid.told : null;
      if (!told || !extremesOf(told)) continue;
      for (const turns of piece.turns) {
        const spot = (/** @type {number} */ k) => toScreen(chart, view, piece.grid.x[k] + piece.carry.dx, piece.grid.theta[k] + piece.carry.dTheta + turns * TURN);
        paintHeat(desk, g, piece.grid, told, spot);
        paintEllipses(desk, g, piece.grid, told, spot);
      }
    }
    g.globalAlpha = 1;
  }

  /** @typedef {(k: number) => [number, number]} Spot a node of the grid on the screen */

  /** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {import('../../core/warp.js').WrapGrid} grid @param {import('../../core/stretch.js').Ellipses} told @param {Spot} spot */
  function paintHeat({ ink }, g, grid, told, spot) {
    const [m, n] = [grid.u.length, grid.v.length];
    for (let i = 0; i + 1 < m; i += 1) {
      for (let j = 0; j + 1 < n; j += 1) {
        const cell = cellStretch(told, n, i, j);
        if (!cell) continue;
        const off = Math.max(Math.abs(Math.log(Math.max(1e-6, cell.least))), Math.abs(Math.log(cell.greatest)));
        g.beginPath();
        for (const [a, b] of [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]]) g.lineTo(...spot(a * n + b));
        g.closePath();
        g.fillStyle = cell.greatest * cell.least >= 1 ? ink.brass : ink.good;
        g.globalAlpha = Math.min(0.55, (off / WORST) * 0.4);
        g.fill();
      }
    }
    g.globalAlpha = 1;
  }

  /** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g @param {import('../../core/warp.js').WrapGrid} grid @param {import('../../core/stretch.js').Ellipses} told @param {Spot} spot */
  function paintEllipses({ ink, view }, g, grid, told, spot) {
    const [m, n] = [grid.u.length, grid.v.length];
    const radius = CIRCLE * Math.min((grid.u[m - 1] - grid.u[0]) / (m - 1), (grid.v[n - 1] - grid.v[0]) / (n - 1)) * EVERY * view.scale;
    if (radius < 1.5) return;
    g.strokeStyle = ink.ink;
    g.lineWidth = 0.9;
    for (const i of everyNode(m, EVERY)) {
      for (const j of everyNode(n, EVERY)) {
        const k = i * n + j;
        if (told.greatest[k] <= 0) continue;
        const [px, py] = spot(k);
        g.beginPath();
        g.ellipse(px, py, radius * told.greatest[k], radius * told.least[k], -told.turn[k], 0, TURN);
        g.stroke();
      }
    }
  }

  /** The carved skin under a lamp; nothing where nothing is cut. @param {import('./ground.js').Desk} desk @param {import('../../core/relief.js').Relief} relief */
  function carvedPicture({ ink, store }, { shades, high, wide }) {
    if (carving && carvingFor === shades) return carving;
    const canvas = document.createElement('canvas');
    canvas.width = wide;
    canvas.height = high;
    const g = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d', { willReadFrequently: true }));
    const picture = g.createImageData(wide, high);
    const inks = store.state.ground === 'dark' ? inksOf(rgb(ink.brass), DARK_GAIN) : inksOf(rgb(ink.sheet), 1);
    for (let row = 0; row < high; row += 1) {
      for (let col = 0; col < wide; col += 1) {
        const shade = shades[row * wide + col];
        if (shade === 255) continue;
        const at = 4 * ((high - 1 - row) * wide + col);
        picture.data[at] = inks[3 * shade]; picture.data[at + 1] = inks[3 * shade + 1]; picture.data[at + 2] = inks[3 * shade + 2];
        picture.data[at + 3] = 255;
      }
    }
    g.putImageData(picture, 0, 0);
    carving = canvas;
    carvingFor = shades;
    return canvas;
  }

  /** @param {import('./ground.js').Desk} desk @param {CanvasRenderingContext2D} g */
  function paintCarved(desk, g) {
    const { chart, view, store } = desk;
    const relief = reliefOf(store.state.view);
    if (!relief) return;
    const { carved } = store.state.view;
    const { dx, dTheta } = relief;
    const [low, high] = [carved.theta[0] - dTheta / 2, carved.theta[carved.theta.length - 1] + dTheta / 2];
    g.imageSmoothingQuality = 'high'; // a hatch finer than the screen becomes a tone, not a moiré
    for (const turns of seamTurns(low, high, chart.left)) {
      const [left, top] = toScreen(chart, view, carved.x[carved.x.length - 1] + dx / 2, low + turns * TURN);
      const [right, bottom] = toScreen(chart, view, carved.x[0] - dx / 2, high + turns * TURN);
      g.drawImage(carvedPicture(desk, relief), left, top, right - left, bottom - top);
    }
  }

  return {
    /** @param {CanvasRenderingContext2D} g */
    paint(g) {
      const desk = now();
      const { width, height, dpr, store } = desk;
      const { show, view } = store.state;
      g.setTransform(dpr, 0, 0, dpr, 0, 0);
      g.clearRect(0, 0, width, height);
      const f = frameOf(desk);
      if (!view || f.right <= f.left || f.bottom <= f.top) return;
      g.save();
      g.beginPath();
      g.rect(f.left, f.top, f.right - f.left, f.bottom - f.top);
      g.clip();
      if (show.stretch) paintStretch(desk, g);
      if (show.proof && view.carved) paintCarved(desk, g);
      if (show.art) { paintTones(desk, g, show.strokes || show.proof); paintArt(desk, g, show.strokes || show.proof); }
      if (show.strokes && view.strokes) paintStrokes(desk, g);
      g.restore();
    },
    /** Forgets pictures made with the inks of another ground. */
    reink() { carving = null; },
    placeOf,
  };
}
