// @ts-check
/** What is to be engraved: its shape and measures, its wall, and where the tool may not be low. */
import { el } from '../dom.js';
import { choiceField, folded, group, hint, numberField, rebuilt, textField } from './fields.js';
import { reshaped, rowsOf } from '../../core/document.js';
import { takeFiles } from './upload.js';

/** @type {[string, string][]} */
const SHAPES = [['cylinder', 'cylinder'], ['cone', 'cone'], ['ovoid', 'ovoid'], ['stations', 'calliper stations'], ['grid', 'measured grid']];

/** @param {string} path */
const on = (path) => () => `/blank/${path}`;

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function blankForm(bench) {
  const { store } = bench;
  const file = el('input', { type: 'file', accept: '.csv,text/csv', class: 'unseen', tabindex: '-1', 'aria-label': 'Measured grid, CSV', onchange: () => { takeFiles(bench, [...file.files]); file.value = ''; } });
  const shape = choiceField(bench, {
    legend: 'Shape', choices: SHAPES, value: (state) => state.doc.blank.shape, pointer: on('shape'),
    pick: (value) => {
      if (value === 'grid' && store.state.doc.blank.shape !== 'grid') { file.click(); shape.render(); return; }
      store.dispatch({ type: 'put', pointer: '/blank', value: reshaped(store.state.doc.blank, value), label: `blank as ${value}` });
    },
  });
  return [
    shape, { node: file, render() {} },
    { node: el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: async () => { const { openMeasuring } = await import('../../dialogs/measuring/dialog.js'); openMeasuring(store, bench.tools); } }, 'Measure …')), render() {} },
    rebuilt(bench, (state) => state.doc.blank.shape, (state) => measures(bench, state.doc.blank.shape, file)),
    group([
      textField(bench, { pointer: on('material'), label: 'Material', hint: 'gourd, beech, glass, duck egg …', list: (state) => state.library.materials.map((/** @type {any} */ one) => one.name ?? one.id ?? String(one)) }),
      numberField(bench, { pointer: on('wall_mm'), label: 'Wall', optional: 'solid', least: 0.1 }),
      numberField(bench, { pointer: on('wall_min_mm'), label: 'Wall to be left', optional: 'none', step: 0.1, least: 0 }),
      numberField(bench, { pointer: on('seam_deg'), label: 'Seam at θ', kind: 'angle', step: 1, optional: '180' }),
      numberField(bench, { pointer: on('radius_error_mm'), label: 'Known to ±', optional: true, step: 0.01, least: 0 }),
    ]),
    keepOuts(bench),
  ];
}

/** @param {import('./fields.js').Bench} bench @param {string} shape @param {HTMLInputElement} file @returns {import('./fields.js').Field[]} */
function measures(bench, shape, file) {
  const length = (/** @type {string} */ path, /** @type {string} */ label, least = 0.1) => numberField(bench, { pointer: on(path), label, least });
  switch (shape) {
    case 'cylinder': return [group([length('diameter_mm', 'Diameter'), length('length_mm', 'Length')])];
    case 'cone': return [group([length('diameter_mm', 'Diameter at x = 0'), length('end_diameter_mm', 'Diameter at the end'), length('length_mm', 'Length')])];
    case 'ovoid': return [
      group([length('length_mm', 'Length'), length('breadth_mm', 'Greatest breadth'), length('shift_mm', 'Shift of the breadth', -1e4), length('quarter_diameter_mm', 'Quarter diameter')]),
      hint('Station 0 is the blunt end. The shift is how far the greatest breadth lies from the middle, towards the blunt end; the quarter diameter is taken a quarter of the length from the pointed end.')];
    case 'stations': return [stationTable(bench)];
    case 'scan': return [hint('The skin comes of a scan, anew for each plan. Choose Measure … to look at it, or to make a table of it.')];
    case 'silhouettes': return [hint('The skin comes of photographs, anew for each plan. Choose Measure … to make a table of it.')];
    default: return [
      { node: el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: () => file.click() }, 'Choose another CSV')), render() {} },
      hint('A table of readings with the columns x_mm, angle_deg and radius_mm, rows in any order: at least 5 stations and 8 angles, every angle at every station.')];
  }
}

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function stationTable(bench) {
  const { store } = bench;
  const list = () => store.state.doc.blank.stations ?? [];
  const set = (/** @type {any[]} */ stations, /** @type {string} */ label) => store.dispatch({ type: 'put', pointer: '/blank/stations', value: stations, label });
  const paste = (/** @type {ClipboardEvent} */ event) => {
    const rows = rowsOf(event.clipboardData?.getData('text') ?? '', 2);
    if (rows.length < 2) return;
    event.preventDefault();
    set(rows.map(([x_mm, diameter_mm]) => ({ x_mm, diameter_mm })).sort((a, b) => a.x_mm - b.x_mm), 'paste stations');
  };
  const rows = rebuilt(bench, () => String(list().length), () => list().map((/** @type {any} */ _, /** @type {number} */ i) => {
    const pair = group([
      numberField(bench, { pointer: on(`stations/${i}/x_mm`), label: i ? `Station ${i + 1}, x` : 'Station x' }),
      numberField(bench, { pointer: on(`stations/${i}/diameter_mm`), label: i ? `Diameter at station ${i + 1}` : 'Diameter', least: 0.1 })]);
    const drop = el('button', { type: 'button', class: 'drop', 'aria-label': `remove station ${i + 1}`, onclick: () => set(list().filter((/** @type {any} */ __, /** @type {number} */ k) => k !== i), 'remove a station') }, '×');
    return { node: el('div', { class: 'item bare' }, pair.node, list().length > 2 ? drop : null), render: pair.render };
  }));
  rows.node.classList.add('stations');
  const add = () => {
    const [last, before] = [list().at(-1), list().at(-2)];
    set([...list(), { x_mm: last.x_mm + Math.max(5, last.x_mm - (before?.x_mm ?? 0)), diameter_mm: last.diameter_mm }], 'add a station');
  };
  const node = el('div', { class: 'part', onpaste: paste }, rows.node,
    el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: add }, 'Add a station')),
    el('p', { class: 'hint' }, 'Two columns copied from a spreadsheet (x and diameter, in mm) can be pasted into any of these fields.'));
  return { node, render: rows.render };
}

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function keepOuts(bench) {
  const { store } = bench;
  const list = () => store.state.doc.blank.keep_out ?? [];
  const set = (/** @type {any[]} */ value, /** @type {string} */ label) => store.dispatch({ type: 'put', pointer: '/blank/keep_out', value: value.length ? value : undefined, label });
  const rows = rebuilt(bench, () => String(list().length), () => list().map((/** @type {any} */ _, /** @type {number} */ i) => {
    const parts = group([
      numberField(bench, { pointer: on(`keep_out/${i}/from_mm`), label: 'From x' }),
      numberField(bench, { pointer: on(`keep_out/${i}/to_mm`), label: 'To x' }),
      textField(bench, { pointer: on(`keep_out/${i}/why`), label: 'What is there', hint: 'chuck, centre, clamp …' }),
      numberField(bench, { pointer: on(`keep_out/${i}/radius_mm`), label: 'Reach r', optional: 'unknown' })]);
    const drop = el('button', { type: 'button', class: 'drop', 'aria-label': `remove keep-out ${i + 1}`, onclick: () => set(list().filter((/** @type {any} */ __, /** @type {number} */ k) => k !== i), 'remove a keep-out') }, '×');
    return { node: el('div', { class: 'item' }, parts.node, drop), render: parts.render };
  }));
  const add = () => {
    const low = bench.store.state.view?.skin.x[0] ?? 0;
    set([...list(), { from_mm: low, to_mm: low + 8, why: 'chuck' }], 'add a keep-out');
  };
  return folded('Keep-outs', [rows, { node: el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: add }, 'Add a keep-out')), render() {} }], 'Where hardware stands: chuck, centre, clamp. The tool passes over it above its reach r from the axis; where that is unknown, at full height and with a warning.');
}
