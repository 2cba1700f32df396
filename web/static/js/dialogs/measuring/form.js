// @ts-check
/**
 * A form that is no part of the job: what is typed lives in the way's memory, shaped as the request that will be sent, so
 * that the places which the server refuses are the fields' own. It stands in for the store before the fields of
 * views/forms/fields.js.
 */
import { valueAt, withValue } from '../../core/document.js';
import { el } from '../../views/dom.js';

/**
 * @param {import('./ways.js').MeasuringBench} bench @param {string} name where in the memory @param {any} initial
 */
export function createForm(bench, name, initial) {
  bench.memory[name] ??= initial;
  /** @type {import('./ways.js').Fault[]} */
  let problems = [];
  /** @type {import('../../views/forms/fields.js').Field[]} */
  let fields = [];
  const render = () => { for (const one of fields) one.render(); };
  const store = {
    get state() {
      const { unit, library, doc } = bench.store.state;
      return { doc: bench.memory[name], unit, library, job: doc, plan: { problems, report: null } };
    },
    /** @param {{ type: string, pointer?: string, value?: unknown }} command only `put` is known here */
    dispatch({ type, pointer = '', value }) {
      if (type !== 'put') return;
      bench.memory[name] = withValue(bench.memory[name], pointer, value);
      problems = problems.filter((one) => one.pointer !== pointer);
      render();
    },
    subscribe: () => () => undefined,
  };
  const form = {
    bench: { store, tools: bench.tools },
    get value() { return bench.memory[name]; },
    /** @param {string} pointer */
    at: (pointer) => valueAt(bench.memory[name], pointer),
    /** @param {string} pointer @param {unknown} value */
    put: (pointer, value) => store.dispatch({ type: 'put', pointer, value }),
    /** @param {HTMLElement} element @param {import('../../views/forms/fields.js').Field[]} parts */
    fill(element, parts) {
      fields = parts;
      element.append(...parts.map((one) => one.node));
    },
    render,
    /** @param {import('./ways.js').Fault[]} faults */
    fault(faults) { problems = faults; render(); },
  };
  return form;
}

/** @typedef {ReturnType<typeof createForm>} Form */

/** A pointer that never moves. @param {string} pointer */
export const on = (pointer) => () => pointer;

let count = 0;

/**
 * A file of the person's, stored at once; the form holds its id. What cannot be stored is told under it.
 * @param {import('./ways.js').MeasuringBench} bench @param {Form} form
 * @param {{ pointer: string, label: string, accept: string, hint?: string }} spec
 * @returns {import('../../views/forms/fields.js').Field}
 */
export function fileField(bench, form, { pointer, label, accept, hint = '' }) {
  count += 1;
  const names = (bench.memory.names ??= {});
  const input = el('input', { type: 'file', accept, class: 'unseen', tabindex: '-1', 'aria-label': label });
  const name = el('span', { class: 'file-name' });
  const why = el('p', { class: 'why', id: `file-${count}-why` });
  const button = el('button', { type: 'button', class: 'btn small', 'aria-label': `choose: ${label}`, 'aria-describedby': `file-${count}-why`, 'data-pointer': pointer, onclick: () => input.click() }, 'Choose');
  let wrong = '';
  const render = () => {
    const id = form.at(pointer);
    const fault = form.bench.store.state.plan.problems.find((/** @type {any} */ one) => one.pointer === pointer);
    name.textContent = id ? names[id] ?? 'stored' : hint || 'none yet';
    why.textContent = wrong || (fault ? `The server asks for ${fault.allowed}.` : '');
  };
  /** @param {File} file */
  async function take(file) {
    wrong = '';
    name.textContent = `${file.name}: being stored …`;
    try {
      const { id } = await bench.upload(file);
      names[id] = file.name;
      form.put(pointer, id);
    } catch (error) {
      wrong = `${file.name}: ${error instanceof Error ? error.message : 'not taken'}`;
    }
    render();
  }
  input.addEventListener('change', () => { if (input.files[0]) take(input.files[0]); input.value = ''; });
  const node = el('div', { class: 'field wide' }, el('span', { class: 'label-line' }, label),
    el('div', { class: 'drop-zone', ondragover: (/** @type {DragEvent} */ event) => event.preventDefault(), ondrop: (/** @type {DragEvent} */ event) => { event.preventDefault(); const file = event.dataTransfer?.files[0]; if (file) take(file); } }, button, name, input), why);
  render();
  return { node, render };
}

/** A button, and why it cannot be pressed yet. @param {string} text @param {() => string} lacks words, or '' @param {() => void} act @param {string} [kind] @returns {import('../../views/forms/fields.js').Field} */
export function actField(text, lacks, act, kind = '') {
  count += 1;
  const why = el('p', { class: 'hint', id: `act-${count}-why` });
  const button = el('button', { type: 'button', class: `btn ${kind}`, 'aria-describedby': `act-${count}-why`, onclick: () => { if (!lacks()) act(); else why.classList.add('why'); } }, text);
  const render = () => {
    why.textContent = lacks();
    if (!why.textContent) why.classList.remove('why');
    button.setAttribute('aria-disabled', String(Boolean(why.textContent)));
  };
  render();
  return { node: el('div', { class: 'act' }, button, why), render };
}
