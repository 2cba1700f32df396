// @ts-check
/** How the photographs are taken: number, scale, camera, lens; the program that turns the rotary; the card of the lens. */
import { el, handOver } from '../../../views/dom.js';
import { folded, group, hint, numberField, rebuilt, selectField, tickField } from '../../../views/forms/fields.js';
import { sentences } from '../../../core/measured/words.js';
import { turnBody } from '../../../core/photographs/asking.js';
import { writtenNode } from '../told.js';
import { cardUrl } from './server.js';
import { guarded } from './pictures.js';

/** @typedef {import('../../../views/forms/fields.js').Field} Field */

/** @param {string} path */
const on = (path) => () => `/setup/${path}`;

/** @param {import('./pictures.js').Room} room @returns {Field[]} */
export function setupFields(room) {
  const own = { store: room.store, tools: room.bench.tools };
  return [
    group([
      numberField(own, { pointer: on('count'), label: 'Number of photographs', kind: 'whole', unit: '', least: 1 }),
      numberField(own, { pointer: on('length_mm'), label: 'Between the points', optional: 'needed', step: 0.1, least: 0.1 }),
      rebuilt(own, (state) => String(state.doc.setup.far), (state) => (state.doc.setup.far ? [] : [numberField(own, { pointer: on('camera_mm'), label: 'Camera to the axis', optional: 'needed', step: 5, least: 1 })])),
      numberField(own, { pointer: on('camera_deg'), label: 'Camera looks from', kind: 'angle', step: 1 }),
    ]),
    tickField(own, { label: 'The camera is far away (more than 30 times the blank\u2019s radius)', pointer: on('far') }),
    hint('One photograph does for a body of revolution, 12 to 36 for anything else, at even angles of the rotary. Let chuck and centre show beyond both points: they tell how the camera stood. The camera stands still, looks square to the axis, with a plain background behind. Measure from the lens to the axis: 3 % too much is some 0.01 mm on a blank of 80 mm. The camera looks from the angle θ of the blank that faces it at A = 0: 0° where the tool stands.'),
    lens(room, own), turning(room),
  ];
}

/** @param {import('./pictures.js').Room} room @param {any} own @returns {Field} */
function lens({ bench, store }, own) {
  const told = el('p', { class: 'hint', role: 'status' });
  const files = el('input', { type: 'file', accept: 'image/jpeg,image/png', multiple: true, class: 'unseen', tabindex: '-1', 'aria-label': 'Pictures of the card' });
  files.addEventListener('change', () => {
    const chosen = [...files.files];
    files.value = '';
    if (chosen.length) guarded(bench, async () => {
      const answer = await bench.run('Reading the card \u2026', async (signal) => {
        const photos = [];
        for (const file of chosen) photos.push((await bench.upload(file)).id);
        return bench.ask('lens', { photos }, signal);
      });
      if (!answer) return;
      const { k1, k2 = 0, sigma } = answer;
      store.dispatch({ type: 'put', pointer: '/setup', value: { ...store.state.doc.setup, k1, k2, k1_sigma: sigma }, label: 'lens from the card' });
      const words = (answer.findings ?? []).map((/** @type {any} */ one) => ` ${sentences(one.message, one.advice)}`).join('');
      told.textContent = `k₁ = ${answer.k1.toFixed(4)} ± ${answer.sigma.toFixed(4)}; the dots lie ${answer.residual_px.toFixed(2)} px beside it.${words}`;
    });
  });
  const card = (/** @type {'a4'|'letter'} */ paper, /** @type {string} */ words) => el('a', { class: 'btn small', href: cardUrl(paper), download: `lens-card-${paper}.svg` }, words);
  const button = el('button', { type: 'button', class: 'btn small', onclick: () => files.click() }, 'Pictures of the card');
  const part = el('div', { class: 'part' }, files, el('div', { class: 'row' }, card('a4', 'Card, A4'), card('letter', 'Card, Letter'), button), told);
  return folded('Lens', [
    group([
      numberField(own, { pointer: on('k1'), label: 'Distortion k₁', kind: 'plain', step: 0.005 }),
      numberField(own, { pointer: on('axis_sigma_px'), label: 'Points known to ±', kind: 'plain', unit: 'px', step: 0.1, least: 0.05 }),
    ]),
    { node: part, render() {} },
  ], 'A phone\u2019s lens bends straight lines: 0.3 % at the edge is 0.1 mm. Print the card at its true size, lay it flat, photograph it four times or more so that it fills the picture, straight on and leaning each way, at the same zoom.');
}

/** @param {import('./pictures.js').Room} room @returns {Field} */
function turning({ store, bench }) {
  bench.memory.wait ??= 'pause';
  const written = el('div', { class: 'part', role: 'status' });
  const wait = selectField({ store, tools: bench.tools }, {
    label: 'At each angle it waits', choices: () => [['pause', 'until cycle start (M0)'], ['3', '3 s'], ['5', '5 s'], ['10', '10 s'], ['20', '20 s']],
    value: () => bench.memory.wait, pick: (value) => { bench.memory.wait = value; }, wide: false,
  });
  const get = () => guarded(bench, async () => {
    const held = bench.memory.wait;
    const got = await bench.file('turn-program', turnBody(store.state.doc, bench.store.state.doc, held === 'pause' ? 'pause' : Number(held)));
    handOver(got);
    written.replaceChildren(...writtenNode(got), el('p', { class: 'hint' }, 'Run it with the spindle off. The tool rises first, then moves along to where it waits: see that its way is free.'));
  });
  return folded('Turning the rotary', [wait, { node: el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: get }, 'Program that turns and waits')), render() {} }, { node: written, render() {} }],
    'Turns the piece from angle to angle and waits for the camera. First the tool rises and goes to where it waits, clear of the blank; from there on the rotary alone moves.');
}
