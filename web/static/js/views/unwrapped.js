// @ts-check
/** The drafting sheet: three stacked canvases (ground, work, overlay), each painted only when it must be. */
import { chip, el, inks } from './dom.js';
import { createChart, fitView, keepInSight, toScreen, zoomAt } from '../core/chart.js';
import { extremes } from '../core/skin.js';
import { extremesOf, stretchWords } from '../core/stretch.js';
import { angleWords, lengthWords } from '../core/quantity.js';
import { nameOf } from './forms/artwork.js';
import { takeFiles } from './forms/upload.js';
import { frameOf, paintGround } from './sheet/ground.js';
import { ZOOM, attachHand } from './sheet/hand.js';
import { home, litPlace, paintOver } from './sheet/over.js';
import { piecesOf } from './sheet/pieces.js';
import { createWork } from './sheet/work.js';

const INSET = { left: 54, right: 30, top: 50, bottom: 46 };
/** Kept in plain memory: thousands of thin strokes are quicker there, and the round view has the card to itself. */
const PLAIN = { willReadFrequently: true };
const SETTLE_MS = 140;
const KEYS = ['art', 'strokes', 'stretch', 'proof'];

/** The sheet of a blank that no plan has measured yet. @param {any} blank */
function guessed(blank) {
  const stations = blank.stations ?? [];
  const widest = Math.max(0, ...stations.map((/** @type {any} */ one) => one.diameter_mm));
  const low = stations[0]?.x_mm ?? 0;
  return createChart(low, stations.at(-1)?.x_mm ?? blank.length_mm ?? 90, Math.max(blank.diameter_mm ?? 0, blank.end_diameter_mm ?? 0, blank.breadth_mm ?? 0, widest) / 2 || 20, blank.seam_deg);
}

/** @param {HTMLElement} element @param {any} store @param {any} tools */
export function mountUnwrapped(element, store, tools) {
  const abort = new AbortController();
  const chips = Object.fromEntries(KEYS.map((key) => [key, chip(key, store.state.show[key], (value) => store.dispatch({ type: 'show', key, value }))]));
  const [ground, work] = [0, 1].map(() => el('canvas', { 'aria-hidden': 'true' }));
  const over = el('canvas', { tabindex: '0', role: 'application', 'aria-roledescription': 'drafting sheet', 'aria-label': 'Unwrapped sheet', 'aria-describedby': 'sheet-how sheet-now', class: 'hand' });
  const now = el('p', { class: 'unseen', id: 'sheet-now', 'aria-live': 'polite' });
  const stretched = el('span', { class: 'words' });
  const legend = el('div', { class: 'legend', hidden: true }, el('span', {}, 'smaller'), el('i', { class: 'stretch', 'aria-hidden': 'true' }), el('span', {}, 'larger'), stretched);
  const tool = (/** @type {string} */ text, /** @type {string} */ label, /** @type {() => void} */ act) => el('button', { type: 'button', 'aria-label': label, title: label, onclick: act }, text);
  const stage = el('div', { class: 'stage' }, ground, work, over, legend,
    el('div', { class: 'tools', role: 'group', 'aria-label': 'Sheet zoom' }, tool('−', 'zoom the sheet out', () => zoomBy(1 / 1.4)), tool('fit', 'fit the sheet', () => fit()), tool('+', 'zoom the sheet in', () => zoomBy(1.4))));
  element.append(
    el('div', { class: 'cap' }, el('h2', { id: 'unwrapped-title' }, 'Unwrapped'), el('span', { class: 'sub' }, 'seen from outside, +X up'), el('span', { class: 'gap' }), el('div', { class: 'chips', role: 'group', 'aria-label': 'Shown on the sheet' }, ...Object.values(chips))),
    stage,
    el('p', { class: 'unseen', id: 'sheet-how' }, 'Arrow keys move the chosen art 0.1 mm, with Shift 1, with Alt 0.01. Square brackets turn it, comma and full stop size it, N chooses the next piece, plus and minus zoom, Home fits the sheet. The same figures are fields under Placement.'),
    now);

  const [groundInk, workInk, overInk] = [ground, work, over].map((canvas) => /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d', PLAIN)));
  /** @type {import('./sheet/ground.js').Desk} */
  const desk = { store, chart: guessed(store.state.doc.blank), view: { scale: 1, left: 0, top: 0 }, width: 1, height: 1, dpr: 1, ink: inks(), moving: false, pieces: [] };
  const painter = createWork(() => desk);
  let fitted = true;
  const dirty = { ground: true, work: true, over: true };
  let frame = 0;
  let settle = 0;
  const hand = attachHand(over, store, { desk: () => desk, setView, zoomBy, fit, redraw: () => ask('over') }, abort.signal);

  stage.addEventListener('dragover', (/** @type {DragEvent} */ event) => event.preventDefault());
  stage.addEventListener('drop', (/** @type {DragEvent} */ event) => { event.preventDefault(); takeFiles({ store, tools }, [...(event.dataTransfer?.files ?? [])]); });

  function paint() {
    frame = 0;
    if (dirty.ground) paintGround(desk, groundInk);
    if (dirty.work) painter.paint(workInk);
    if (dirty.over) paintOver(desk, overInk, hand.held());
    Object.assign(dirty, { ground: false, work: false, over: false });
  }
  /** @param {...('ground'|'work'|'over')} layers */
  function ask(...layers) {
    for (const layer of layers) dirty[layer] = true;
    frame ||= requestAnimationFrame(paint);
  }
  /** Draws the quick way now and the fine way when things rest. @param {...('ground'|'work'|'over')} layers */
  function askMoving(...layers) {
    desk.moving = true;
    clearTimeout(settle);
    settle = setTimeout(() => { desk.moving = false; ask('work', 'over'); }, SETTLE_MS);
    ask(...layers);
  }
  function setView(/** @type {any} */ next) {
    desk.view = keepInSight(desk.chart, next, desk.width, desk.height);
    fitted = false;
    askMoving('ground', 'work', 'over');
  }
  function fit() {
    desk.view = fitView(desk.chart, desk.width, desk.height, INSET);
    fitted = true;
    askMoving('ground', 'work', 'over');
  }
  function zoomBy(/** @type {number} */ factor) { setView(zoomAt(desk.view, factor, desk.width / 2, desk.height / 2, ZOOM)); }

  function resize() {
    const box = stage.getBoundingClientRect();
    [desk.width, desk.height, desk.dpr] = [Math.max(1, box.width), Math.max(1, box.height), Math.min(3, devicePixelRatio || 1)];
    for (const canvas of [ground, work, over]) { canvas.width = Math.round(desk.width * desk.dpr); canvas.height = Math.round(desk.height * desk.dpr); }
    if (fitted) desk.view = fitView(desk.chart, desk.width, desk.height, INSET);
    Object.assign(dirty, { ground: true, work: true, over: true });
    cancelAnimationFrame(frame);
    paint();
  }

  /** The sheet follows the measured skin; where the plan is not there yet, the document's own figures. */
  function remeasure() {
    const { view, doc } = store.state;
    const x = view?.skin.x;
    const chart = x ? createChart(x[0], x[x.length - 1], extremes(view.skin).widest, doc.blank.seam_deg) : guessed(doc.blank);
    if (chart.lowMm === desk.chart.lowMm && chart.highMm === desk.chart.highMm && chart.refMm === desk.chart.refMm && chart.left === desk.chart.left) return;
    desk.chart = chart;
    if (fitted) desk.view = fitView(chart, desk.width, desk.height, INSET);
  }

  let telling = 0;
  function tell() {
    clearTimeout(telling);
    telling = setTimeout(() => {
      const { unit, selected } = store.state;
      const copies = desk.pieces.filter((one) => one.index === selected);
      const [piece] = copies;
      const { placement } = piece ?? {};
      now.textContent = piece ? `${nameOf(store.state, selected)}: station ${lengthWords(placement.x_mm, unit)}, angle ${angleWords(placement.angle_deg ?? 0)}, width ${lengthWords(piece.carry.width, unit)}, turn ${angleWords(placement.turn_deg ?? 0)}.${copies.length > 1 ? ` ${copies.length} copies.` : ''}${copies.some((one) => one.turns.length > 1) ? ' It crosses the seam.' : ''}` : 'No artwork yet.';
    }, 500);
  }

  function tellStretch() {
    if (legend.hidden) return;
    const told = desk.pieces.flatMap((piece) => (piece.planned && piece.grid.told ? [extremesOf(piece.grid.told)] : []));
    stretched.textContent = stretchWords(told.flatMap((range) => range ?? []));
  }

  function reveal() {
    const place = litPlace(store.state);
    if (!place) return;
    const p = toScreen(desk.chart, desk.view, place[0], home(desk.chart, place[1]));
    const f = frameOf(desk);
    if (p[0] < f.left + 20 || p[0] > f.right - 20 || p[1] < f.top + 20 || p[1] > f.bottom - 20) setView({ ...desk.view, left: desk.view.left + desk.width / 2 - p[0], top: desk.view.top + desk.height / 2 - p[1] });
  }

  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.doc !== before.doc || next.view !== before.view) {
      if (next.view !== before.view || next.doc.blank !== before.doc.blank) { remeasure(); ask('ground'); }
      desk.pieces = piecesOf(next, desk.chart.left);
      tellStretch();
      if (next.doc !== before.doc) askMoving('work', 'over'); else ask('work', 'over');
      tell();
    }
    if (next.show !== before.show) {
      for (const key of KEYS) chips[key].setAttribute('aria-pressed', String(next.show[key]));
      legend.hidden = !next.show.stretch;
      tellStretch();
      ask('work');
    }
    if (next.ground !== before.ground) requestAnimationFrame(() => { desk.ink = inks(); painter.reink(); ask('ground', 'work', 'over'); });
    if (next.unit !== before.unit) { ask('ground', 'over'); tell(); }
    if (next.moment !== before.moment || next.selected !== before.selected) ask('over');
    if (next.selected !== before.selected) tell();
    if (next.lit !== before.lit) { reveal(); ask('over'); }
  });
  const watcher = new ResizeObserver(resize);
  watcher.observe(stage);
  remeasure();
  desk.pieces = piecesOf(store.state, desk.chart.left);
  resize();
  tell();

  return {
    dispose() {
      stop(); abort.abort(); watcher.disconnect();
      cancelAnimationFrame(frame); clearTimeout(settle); clearTimeout(telling);
      element.replaceChildren();
    },
  };
}
