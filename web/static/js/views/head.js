// @ts-check
/** The head: which job it is, whether it is saved, steps back and forth, ground and units. */
import { el, svg } from './dom.js';
import { openJobs, settleConflict } from '../dialogs/jobs.js';

const MARK = 'M1 11h20M5.6 7c3.4 2 7.4 2 10.8 0M5.6 15c3.4-2 7.4-2 10.8 0';

/** @param {string} name @param {string} legend @param {[string, string][]} choices @param {string} now @param {(value: string) => void} pick */
function choice(name, legend, choices, now, pick) {
  const set = el('fieldset', { class: 'pair' }, el('legend', { class: 'unseen' }, legend));
  for (const [value, text] of choices) {
    const input = el('input', { type: 'radio', name, value, onchange: () => pick(value) });
    input.checked = value === now;
    set.append(el('label', {}, input, el('span', {}, text)));
  }
  return set;
}

/** @param {HTMLElement} element @param {any} store @param {any} tools */
export function mountHead(element, store, tools) {
  const { saving } = tools;
  const abort = new AbortController();
  const name = el('input', { type: 'text', class: 'job', 'aria-label': 'Name of the job', maxlength: '80', autocomplete: 'off', spellcheck: 'false' });
  name.addEventListener('change', () => {
    const value = name.value.trim();
    if (value) store.dispatch({ type: 'put', pointer: '/name', value, label: 'name the job' });
    render();
  });
  const saved = el('p', { class: 'saved', role: 'status' });
  const undo = el('button', { type: 'button', class: 'quiet', onclick: () => store.undo() });
  const redo = el('button', { type: 'button', class: 'quiet', onclick: () => store.redo() });
  const jobs = el('button', { type: 'button', class: 'quiet', onclick: () => openJobs(store, tools) }, 'Jobs');
  const save = el('button', { type: 'button', class: 'quiet framed', onclick: () => keep() }, 'Save');

  async function keep() {
    if (await saving.save() === 'conflict') settleConflict(saving);
  }
  document.addEventListener('bench-save', keep, { signal: abort.signal });

  const step = (/** @type {HTMLElement} */ button, /** @type {string} */ word, /** @type {string} */ keys, /** @type {string|null} */ label) => {
    button.replaceChildren(word, el('kbd', { 'aria-hidden': 'true' }, keys));
    button.setAttribute('aria-disabled', String(!label));
    button.setAttribute('aria-label', label ? `${word}: ${label}` : `${word}: nothing to ${word.toLowerCase()}`);
    button.title = label ? `${word}: ${label}` : '';
  };
  const render = () => {
    const { state } = store;
    if (document.activeElement !== name) name.value = state.doc.name;
    const clean = state.saved?.doc === state.doc;
    const revision = state.saved?.revision ? ` · revision ${state.saved.revision}` : '';
    saved.textContent = state.said || (state.saved ? `${clean ? 'saved' : 'changed since saved'}${revision}` : 'not saved yet');
    saved.title = saved.textContent ?? '';
    save.setAttribute('aria-disabled', String(clean));
    step(undo, 'Undo', 'Ctrl Z', state.history.undo);
    step(redo, 'Redo', 'Shift Ctrl Z', state.history.redo);
  };
  element.append(
    svg('svg', { viewBox: '0 0 22 22', class: 'mark', 'aria-hidden': 'true' }, svg('ellipse', { cx: 11, cy: 11, rx: 6, ry: 9 }), svg('path', { d: MARK })),
    name, saved, el('span', { class: 'gap' }),
    el('div', { class: 'steps' }, jobs, save, undo, redo),
    choice('ground', 'Ground', [['light', 'light'], ['dark', 'dark']], store.state.ground, (value) => store.dispatch({ type: 'ground', value })),
    choice('unit', 'Units shown', [['mm', 'mm'], ['inch', 'inch']], store.state.unit, (value) => store.dispatch({ type: 'unit', value })),
  );
  render();
  let hush = 0;
  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.moment !== before.moment) return;
    if (next.said !== before.said && next.said) {
      clearTimeout(hush);
      hush = setTimeout(() => store.dispatch({ type: 'say', text: '' }), 8000);
    }
    render();
  });
  return { dispose() { stop(); abort.abort(); clearTimeout(hush); element.replaceChildren(); } };
}
