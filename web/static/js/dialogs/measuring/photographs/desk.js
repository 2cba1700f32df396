// @ts-check
/** One photograph on the desk: the picture with edge, mask and axis over it, a loupe, and the tools to mend it. */
import { el } from '../../../views/dom.js';
import { sentences } from '../../../core/measured/words.js';
import { bodyOf, tinted } from '../../../core/photographs/mask.js';
import { showing, wholeSight, zoomed } from '../../../core/photographs/sight.js';
import { attachHand } from './hand.js';
import { MASK, magnify, paint } from './painting.js';
import { pictureOf } from './server.js';
import { wordOf } from './finding.js';

/** @typedef {[number, number]} Point */

const LOUPE = 132;
const LOUPE_ZOOM = 10;
/** @type {[string, string, string][]} */
const MODES = [
  ['look', 'Look', 'Drag moves the picture, the wheel zooms; arrows, plus, minus and 0 do so by keys.'],
  ['axis', 'Axis', 'Drag from the point at x = 0 to the far end, then each point to its place. By keys: Enter changes the point, arrows move it by 0.25 px, with Shift by 10 px.'],
  ['include', 'Add', 'Draw round what belongs to the body. By keys: arrows move the cross (Shift: finely), Space sets a corner, Enter closes, Backspace takes one back.'],
  ['exclude', 'Take away', 'Draw round what does not belong to the body: a hand, a shadow. By keys as with Add.'],
  ['move', 'Move a point', 'Drag a point of the edge. By keys: Page Up and Page Down go along the edge, arrows move by 0.25 px, Enter keeps it.'],
];

/**
 * @param {import('./pictures.js').Room & { fields: Map<string, any> }} room @param {ReturnType<typeof import('./finding.js').createFinding>} finding @param {AbortSignal} signal
 */
export function mountDesk(room, finding, signal) {
  const { store, blobs, fields } = room;
  const canvas = el('canvas', { tabindex: '0', role: 'application', 'aria-roledescription': 'photograph', class: 'hand', 'aria-describedby': 'desk-how' });
  const loupe = el('canvas', { class: 'loupe', width: String(LOUPE), height: String(LOUPE), 'aria-hidden': 'true', hidden: true });
  const said = el('p', { class: 'unseen', role: 'status' });
  const how = el('p', { class: 'hint', id: 'desk-how' });
  const title = el('h3', { class: 'desk-title' });
  const state = el('p', { class: 'desk-state', role: 'status' });
  const stage = el('div', { class: 'desk-stage' }, canvas, loupe);
  const modes = MODES.map(([value, label]) => el('label', {}, el('input', { type: 'radio', name: 'desk-mode', value, onchange: () => store.dispatch({ type: 'mode', value }) }), el('span', {}, label)));
  const slider = el('input', { type: 'range', id: 'desk-threshold', min: '0', max: '1', step: 'any' });
  const value = el('output', { class: 'unit', for: 'desk-threshold' });
  const mask = el('button', { type: 'button', class: 'chip', 'aria-pressed': 'false', onclick: () => store.dispatch({ type: 'mask', value: !store.state.mask }) }, 'mask');
  const automatic = el('button', { type: 'button', class: 'btn small', onclick: () => store.dispatch({ type: 'put', pointer: `/photos/${store.state.selected}/threshold`, value: undefined, label: 'threshold by itself' }) }, 'Automatic');
  const button = (/** @type {string} */ text, /** @type {() => void} */ press, /** @type {string} */ label = text) => el('button', { type: 'button', class: 'btn small', 'aria-label': label, onclick: press }, text);
  const undo = button('Undo', () => store.undo());
  const redo = button('Redo', () => store.redo());
  const select = (/** @type {number} */ by) => store.dispatch({ type: 'select', index: store.state.selected + by });
  const large = button('Enlarge', enlarge);
  const node = el('section', { class: 'desk', 'aria-label': 'Photograph on the desk' },
    el('div', { class: 'row' }, button('‹', () => select(-1), 'photograph before'), title, button('›', () => select(1), 'photograph after'), el('span', { class: 'gap' }), large),
    el('fieldset', { class: 'kinds' }, el('legend', {}, 'What dragging does'), ...modes),
    stage,
    el('div', { class: 'row' }, button('−', () => zoom(null, 0.8), 'zoom out'), button('+', () => zoom(null, 1.25), 'zoom in'), button('Whole', () => { whole(); ask(); }, 'whole picture'), el('span', { class: 'gap' }), undo, redo, button('As found', () => store.dispatch({ type: 'bare', index: store.state.selected, label: 'photograph as found' }), 'as found: give up what was mended on this photograph')),
    state,
    el('div', { class: 'field' }, el('div', { class: 'label' }, el('label', { for: 'desk-threshold' }, 'Threshold'), value), slider),
    el('div', { class: 'row' }, mask, automatic), how, said);

  let [width, height, dpr] = [1, 1, 1];
  let sight = { zoom: 1, left: 0, top: 0 };
  let fitted = true;
  let frame = 0;
  let loading = '';
  /** @type {{ asset: string, bitmap: ImageBitmap }|null} */
  let shown = null;
  /** @type {{ key: string, canvas: HTMLCanvasElement, scale: number }|null} */
  let held = null;

  const photo = () => store.state.doc.photos[store.state.selected];
  const outline = () => finding.known(store.state.selected);
  const bitmap = () => (shown && shown.asset === photo().asset ? shown.bitmap : null);
  const size = () => { const b = bitmap(); return b ? /** @type {Point} */ ([b.width, b.height]) : null; };
  const edge = () => finding.shown(store.state.selected)?.points_px ?? [];
  const level = () => store.state.sliding ?? photo().threshold ?? finding.shown(store.state.selected)?.threshold ?? 0;
  const least = () => { const s = size(); return s ? wholeSight(s[0], s[1], width, height).zoom * 0.5 : 0.01; };

  function whole() { const s = size(); if (s) sight = wholeSight(s[0], s[1], width, height); fitted = true; }
  /** @param {Point|null} at @param {number} by */
  function zoom(at, by) { sight = zoomed(sight, at ?? [width / 2, height / 2], by, least()); fitted = false; ask(); }
  function ask() { frame ||= requestAnimationFrame(draw); }

  const hand = attachHand(canvas, store, {
    sight: () => sight, setSight: (next) => { sight = next; fitted = false; }, size, zoom, whole, edge, ask,
    show: (place) => { sight = showing(sight, place, width, height, 24); },
    say: (words) => { said.textContent = words; },
  }, signal);

  /** The mask at the threshold that stands or is tried, as a small picture; kept while nothing of it changes. */
  function maskNow() {
    const field = fields.get(photo().asset ?? '');
    if (!field || (!store.state.mask && store.state.sliding === null)) return null;
    const key = JSON.stringify([photo().asset, level(), photo().include, photo().exclude]);
    if (held?.key !== key) {
      const small = document.createElement('canvas');
      Object.assign(small, { width: field.width, height: field.height });
      const pixels = new ImageData(field.width, field.height);
      pixels.data.set(tinted(bodyOf(field, level(), photo().include, photo().exclude), MASK));
      /** @type {CanvasRenderingContext2D} */ (small.getContext('2d')).putImageData(pixels, 0, 0);
      held = { key, canvas: small, scale: field.scale_px };
    }
    return held;
  }

  function draw() {
    frame = 0;
    const { hand: now } = hand;
    const { mode, doc } = store.state;
    const tint = maskNow();
    paint(/** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d')), {
      width, height, dpr, sight, bitmap: bitmap(), mask: tint?.canvas ?? null, maskScale: tint?.scale ?? 1, outline: finding.shown(store.state.selected), photo: photo(), axis: doc.axis,
      active: mode === 'axis' ? now.active : null, path: now.path, lasso: hand.lasso(), cursor: now.cursor, pending: now.pending,
    });
    const b = bitmap();
    loupe.hidden = !(b && now.loupe);
    if (b && now.loupe) {
      const x = sight.left + now.loupe[0] * sight.zoom;
      loupe.classList.toggle('left', x > width / 2);
      magnify(/** @type {CanvasRenderingContext2D} */ (loupe.getContext('2d')), b, now.loupe, LOUPE, LOUPE_ZOOM);
    }
  }

  /** Brings the chosen picture onto the desk; of two that are asked for the later stays. */
  async function load() {
    const { asset } = photo();
    if (!asset || shown?.asset === asset || loading === asset) return;
    loading = asset;
    try {
      const blob = blobs.get(asset) ?? await pictureOf(asset, signal);
      blobs.set(asset, blob);
      const made = await createImageBitmap(blob);
      if (loading !== asset || signal.aborted) { made.close(); return; }
      shown?.bitmap.close();
      shown = { asset, bitmap: made };
      whole();
      render();
    } catch (error) {
      if (!signal.aborted) state.textContent = error instanceof Error ? error.message : 'The picture could not be shown.';
    } finally { if (loading === asset) loading = ''; }
  }

  function resize() {
    const box = stage.getBoundingClientRect();
    [width, height, dpr] = [Math.max(1, box.width), Math.max(1, box.height), Math.min(2, devicePixelRatio || 1)];
    Object.assign(canvas, { width: Math.round(width * dpr), height: Math.round(height * dpr) });
    if (fitted) whole();
    ask();
  }

  /** The desk over the whole window, and back. */
  function enlarge() {
    const home = node.parentElement;
    const after = node.nextSibling;
    const box = el('dialog', { class: 'box desk-box', 'aria-label': 'Photograph, enlarged' });
    large.textContent = 'Back';
    large.setAttribute('aria-label', 'back to the form');
    large.onclick = () => box.close();
    large.removeEventListener('click', enlarge);
    box.addEventListener('close', () => {
      home?.insertBefore(node, after);
      box.remove();
      large.textContent = 'Enlarge';
      large.setAttribute('aria-label', 'Enlarge');
      large.onclick = null;
      large.addEventListener('click', enlarge);
      large.focus();
    });
    document.body.append(box);
    box.append(node);
    box.showModal();
    large.focus();
  }

  function render() {
    const { state: now } = store;
    const at = now.selected;
    const found = outline();
    const [word, tone] = wordOf(found, Boolean(photo().asset));
    title.textContent = `${at + 1} of ${now.doc.photos.length}, ${photo().angle_deg}°`;
    canvas.setAttribute('aria-label', `Photograph ${at + 1}`);
    const words = found?.state === 'failed' ? found.why : (found?.findings ?? []).map((/** @type {any} */ one) => sentences(one.message, one.advice)).join(' ');
    state.className = `desk-state ${tone}`;
    const told = words ? `${word}: ${words}` : word;
    if (state.textContent !== told) state.textContent = told;
    for (const label of modes) { const input = /** @type {HTMLInputElement} */ (label.firstChild); input.checked = input.value === now.mode; }
    how.textContent = MODES.find(([mode]) => mode === now.mode)?.[2] ?? '';
    const field = fields.get(photo().asset ?? '');
    slider.disabled = !field;
    mask.disabled = !field;
    slider.max = String(field ? 255 * field.per_level : 1);
    slider.value = String(level());
    slider.style.setProperty('--done', `${field ? (100 * level()) / (255 * field.per_level) : 0}%`);
    value.textContent = field ? `${level().toFixed(1)}${photo().threshold === undefined && now.sliding === null ? ' (automatic)' : ''}` : '';
    mask.setAttribute('aria-pressed', String(now.mask));
    undo.disabled = !now.history.undo;
    redo.disabled = !now.history.redo;
    undo.setAttribute('aria-label', now.history.undo ? `Undo: ${now.history.undo}` : 'Undo');
    redo.setAttribute('aria-label', now.history.redo ? `Redo: ${now.history.redo}` : 'Redo');
    if (photo().asset) { load(); finding.soon(at); }
    ask();
  }

  slider.addEventListener('input', () => store.dispatch({ type: 'slide', value: Number(slider.value) }));
  slider.addEventListener('change', () => {
    store.dispatch({ type: 'put', pointer: `/photos/${store.state.selected}/threshold`, value: Math.max(0.01, Number(Number(slider.value).toFixed(2))), label: 'threshold' });
    store.dispatch({ type: 'slide', value: null });
  });
  node.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    const key = event.key.toLowerCase();
    if (!(event.ctrlKey || event.metaKey) || (key !== 'z' && key !== 'y')) return;
    event.preventDefault();
    event.stopPropagation();
    if (event.shiftKey || key === 'y') store.redo(); else store.undo();
  });
  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.selected !== before.selected || next.mode !== before.mode) hand.clear();
    if (next.selected !== before.selected) fitted = true;
    render();
  });
  const watcher = new ResizeObserver(resize);
  watcher.observe(stage);
  render();
  return { node, dispose() { stop(); watcher.disconnect(); cancelAnimationFrame(frame); shown?.bitmap.close(); node.closest('dialog.desk-box')?.remove(); } };
}
