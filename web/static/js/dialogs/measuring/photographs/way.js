// @ts-check
/** Measuring by photographs: set up, get the pictures, mark the axis, mend the edges, work out the skin. */
import { el } from '../../../views/dom.js';
import { folded, group, numberField, rebuilt } from '../../../views/forms/fields.js';
import { createStore } from '../../../core/store.js';
import { missing, silhouettesBody } from '../../../core/photographs/asking.js';
import { applyProject, emptyProject } from '../../../core/photographs/project.js';
import { createFinding } from './finding.js';
import { mountDesk } from './desk.js';
import { mountList } from './list.js';
import { phonePart } from './phone.js';
import { guarded, picturesPart, takeAll } from './pictures.js';
import { setupFields } from './setup.js';

const LIMITS = [
  'A silhouette shows only what stands out: a dent, a flute or the dimple at a stem is bridged over. Where no edge touches, the skin is told as flat or hollow, with its place; measure there with callipers or a probe, or keep the art off.',
  'Beyond the last places that an edge touches, near both ends, the skin is carried on, not seen.',
  'One photograph takes the blank for a body of revolution: what is oval or bent does not show.',
];

/** What this way remembers until the page is left. @param {import('../ways.js').MeasuringBench} bench */
function roomOf(bench) {
  const { memory } = bench;
  memory.own ??= createStore({
    doc: emptyProject(), unit: bench.store.state.unit, plan: { problems: [], report: null }, selected: 0, outlines: {}, mode: 'axis', mask: true, sliding: null,
  }, applyProject);
  memory.blobs ??= new Map();
  memory.fields ??= new Map();
  memory.small ??= new Map();
  return { store: memory.own, bench, blobs: memory.blobs, fields: memory.fields, small: memory.small };
}

/** @param {HTMLElement} element @param {import('../ways.js').MeasuringBench} bench */
function mount(element, bench) {
  const abort = new AbortController();
  const { signal } = abort;
  const room = roomOf(bench);
  const { store } = room;
  const own = { store, tools: bench.tools };
  const finding = createFinding(room, signal);
  const desk = mountDesk(room, finding, signal);
  const list = mountList(room, finding, signal);
  const fields = setupFields(room);
  const replace = el('input', { type: 'file', accept: 'image/jpeg,image/png', class: 'unseen', tabindex: '-1', 'aria-label': 'Another picture for this angle' });
  replace.addEventListener('change', () => { const file = replace.files[0]; replace.value = ''; if (file) guarded(bench, () => takeAll(room, [file], store.state.selected, signal)); });
  const chosen = rebuilt(own, (state) => `${state.selected}`, (state) => [
    numberField(own, { pointer: () => `/photos/${state.selected}/angle_deg`, label: `Angle of photograph ${state.selected + 1}`, kind: 'angle', step: 0.1 })]);
  const ends = rebuilt(own, (state) => String(Boolean(state.doc.axis)), (state) => (state.doc.axis ? [axisFields(own)] : []));
  const todo = el('ul', { class: 'todo' });
  const button = (/** @type {string} */ text, /** @type {() => void} */ press, kind = 'btn small') => el('button', { type: 'button', class: kind, onclick: press }, text);
  const go = button('Work out the skin', () => {
    if (missing(store.state.doc).length) { todo.focus(); return; }
    bench.run('Working out the skin …', (stop) => bench.ask('silhouettes', silhouettesBody(store.state.doc), stop));
  }, 'btn main');
  todo.tabIndex = -1;
  const part = (/** @type {string} */ title, /** @type {Node[]} */ ...nodes) => el('section', { class: 'step', 'aria-label': title }, el('h3', {}, title), ...nodes);
  element.append(el('div', { class: 'photographs' },
    part('Set up', ...fields.map((one) => one.node)),
    part('Pictures', picturesPart(room, signal), phonePart(room, signal), list.node, replace,
      el('div', { class: 'fields' }, chosen.node, el('div', { class: 'row end' }, button('Replace it', () => replace.click()))),
      el('div', { class: 'row' }, button('Even angles', () => store.dispatch({ type: 'count', value: store.state.doc.setup.count, label: 'even angles' })), button('Find all edges', () => finding.all()))),
    part('Axis and edges', desk.node, ends.node),
    part('Skin', todo, el('div', { class: 'row' }, go), el('ul', { class: 'cautions' }, ...LIMITS.map((words) => el('li', {}, words))))));

  function render() {
    if (store.state.unit !== bench.store.state.unit) store.dispatch({ type: 'unit', value: bench.store.state.unit });
    for (const one of [...fields, chosen, ends]) one.render();
    const left = missing(store.state.doc);
    go.setAttribute('aria-disabled', String(left.length > 0));
    todo.replaceChildren(...left.map((words) => el('li', {}, `Still to do: ${words}.`)));
  }
  render();
  const stop = store.subscribe(render);
  return {
    render,
    /** The photograph that the server spoke of comes onto the desk. @param {import('../ways.js').Fault[]} faults */
    fault(faults) {
      const at = faults.map(({ pointer }) => /^\/photos\/(\d+)/.exec(pointer)?.[1]).find((one) => one !== undefined);
      const sent = store.state.doc.photos.map((/** @type {any} */ one, /** @type {number} */ i) => (one.asset ? i : -1)).filter((/** @type {number} */ i) => i >= 0);
      if (at !== undefined && sent[Number(at)] !== undefined) store.dispatch({ type: 'select', index: sent[Number(at)] });
    },
    dispose() { abort.abort(); stop(); finding.dispose(); desk.dispose(); list.dispose(); element.replaceChildren(); },
  };
}

/** The two points as numbers. @param {any} own */
function axisFields(own) {
  const field = (/** @type {string} */ end, /** @type {number} */ i, /** @type {string} */ label) => numberField(own, { pointer: () => `/axis/${end}/${i}`, label, kind: 'plain', unit: 'px', step: 0.25 });
  return folded('The two points as numbers', [group([
    field('from_px', 0, 'x = 0: across'), field('from_px', 1, 'x = 0: down'), field('to_px', 0, 'Far end: across'), field('to_px', 1, 'Far end: down')])]);
}

/** @type {import('../ways.js').Way} */
export const photographs = Object.freeze({ id: 'photographs', label: 'Photographs', note: 'Photographs of the blank, turned by known angles before a plain background.', mount });
