// @ts-check
/** The fields that forms are made of. Each gives `{ node, render }`; `render` shows what the document now says. */
import { el } from '../dom.js';
import { QUANTITIES } from '../../core/quantity.js';
import { valueAt } from '../../core/document.js';

/**
 * @typedef {{ node: HTMLElement, render: () => void }} Field
 * @typedef {{ store: any, tools: any }} Bench
 * @typedef {{ pointer: (state: any) => string, label: string, kind?: keyof typeof QUANTITIES, unit?: string, step?: number, optional?: string|boolean, least?: number, wide?: boolean }} Spec
 *   `optional`: may be empty; a string says what empty means
 */

let count = 0;
const fresh = (/** @type {string} */ name) => { count += 1; return `field-${count}-${name.toLowerCase().replace(/[^a-z0-9]+/g, '-')}`; };

/** What the server says of a place: its fault, or the default that was taken. @param {any} state @param {string} pointer */
const faultAt = (state, pointer) => state.plan.problems.find((/** @type {any} */ one) => one.pointer === pointer);
const defaultAt = (/** @type {any} */ state, /** @type {string} */ pointer) => state.plan.report?.defaults?.find((/** @type {any} */ one) => one.pointer === pointer)?.value;

/** @param {HTMLElement} input @param {HTMLElement} why @param {any} state @param {string} pointer */
function mark(input, why, state, pointer) {
  const fault = faultAt(state, pointer);
  if (fault) input.setAttribute('aria-invalid', 'true'); else input.removeAttribute('aria-invalid');
  why.textContent = fault ? `The server asks for ${fault.allowed}.` : '';
  input.dataset.pointer = pointer;
}

/** @param {Bench} bench @param {Spec} spec @returns {Field} */
export function numberField({ store }, spec) {
  const id = fresh(spec.label);
  const how = QUANTITIES[spec.kind ?? 'length'];
  const step = spec.step ?? how.step;
  const name = spec.label.toLowerCase();
  let shown = '';
  /** What was typed and not taken stays, with its reason, until the value it stands for changes. @type {{ why: string, at: string, over: any }|null} */
  let wrong = null;
  let typing = false; // a plan that arrives meanwhile may not write over it
  const input = el('input', { id, type: 'text', inputmode: 'decimal', autocomplete: 'off', spellcheck: 'false', 'aria-describedby': `${id}-unit ${id}-why` });
  const unit = el('span', { class: 'unit', id: `${id}-unit` });
  const why = el('p', { class: 'why', id: `${id}-why` });
  const pointer = () => spec.pointer(store.state);
  const read = () => valueAt(store.state.doc, pointer());
  const render = () => {
    const { state } = store;
    const value = read();
    const usual = defaultAt(state, pointer());
    shown = typeof value === 'number' ? how.show(value, state.unit) : '';
    if (wrong && (wrong.at !== pointer() || wrong.over !== value)) wrong = null;
    if (!wrong && !typing) input.value = shown;
    input.placeholder = typeof usual === 'number' ? how.show(usual, state.unit) : typeof spec.optional === 'string' ? spec.optional : '';
    unit.textContent = spec.unit ?? how.unit(state.unit);
    mark(input, why, state, pointer());
    if (wrong) { input.setAttribute('aria-invalid', 'true'); why.textContent = wrong.why; }
  };
  const write = (/** @type {number|undefined} */ value, /** @type {string|undefined} */ merge) => store.dispatch({ type: 'put', pointer: pointer(), value, label: `change ${name}`, merge });
  const take = () => {
    typing = false;
    if (input.value === shown) { wrong = null; render(); return true; }
    if (input.value.trim() === '' && spec.optional) { wrong = null; write(undefined, undefined); return true; }
    const got = how.read(input.value, store.state.unit);
    if (got.ok) { wrong = null; write(Number(got.value.toFixed(6)), undefined); render(); return true; }
    wrong = { why: got.why, at: pointer(), over: read() };
    render();
    return false;
  };
  let burst = 0;
  const nudge = (/** @type {number} */ sign, /** @type {{ shiftKey: boolean, altKey: boolean }} */ event) => {
    const by = Math.max(step * (event.shiftKey ? 10 : event.altKey ? 0.1 : 1), spec.kind === 'whole' ? 1 : 0);
    const now = read() ?? defaultAt(store.state, pointer()) ?? 0;
    write(Math.max(spec.least ?? -Infinity, Number((now + sign * by).toFixed(6))), `${id}/${burst}`);
  };
  input.addEventListener('input', () => { typing = true; });
  input.addEventListener('change', take);
  input.addEventListener('blur', () => { if (typing) take(); });
  input.addEventListener('focus', () => { burst += 1; input.select(); });
  input.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    if (event.key === 'Escape') { wrong = null; typing = false; input.removeAttribute('aria-invalid'); render(); input.select(); }
    if (event.key !== 'ArrowUp' && event.key !== 'ArrowDown') return;
    event.preventDefault();
    if (!take()) return;
    nudge(event.key === 'ArrowUp' ? 1 : -1, event);
    input.select();
  });
  const press = (/** @type {number} */ sign) => (/** @type {MouseEvent} */ event) => nudge(sign, event);
  const node = el('div', { class: spec.wide ? 'field wide' : 'field' },
    el('div', { class: 'label' }, el('label', { for: id }, spec.label), unit),
    el('div', { class: 'entry' },
      el('button', { type: 'button', class: 'nudge', 'aria-label': `less ${name}`, onclick: press(-1) }, '−'),
      input,
      el('button', { type: 'button', class: 'nudge', 'aria-label': `more ${name}`, onclick: press(1) }, '+')),
    why);
  render();
  return { node, render };
}

/** @param {Bench} bench @param {{ pointer: (state: any) => string, label: string, hint?: string, optional?: boolean, wide?: boolean, list?: (state: any) => string[], most?: number }} spec @returns {Field} */
export function textField({ store }, spec) {
  const id = fresh(spec.label);
  const list = spec.list ? el('datalist', { id: `${id}-list` }) : null;
  const input = el('input', { id, type: 'text', class: 'line', maxlength: String(spec.most ?? 200), autocomplete: 'off', placeholder: spec.hint ?? null, list: list ? `${id}-list` : null, 'aria-describedby': `${id}-why` });
  const why = el('p', { class: 'why', id: `${id}-why` });
  const render = () => {
    const pointer = spec.pointer(store.state);
    const value = valueAt(store.state.doc, pointer) ?? '';
    if (document.activeElement !== input) input.value = value;
    if (list && spec.list) list.replaceChildren(...spec.list(store.state).map((one) => el('option', { value: one })));
    mark(input, why, store.state, pointer);
  };
  input.addEventListener('change', () => {
    const value = input.value.trim();
    store.dispatch({ type: 'put', pointer: spec.pointer(store.state), value: value === '' && spec.optional !== false ? undefined : value, label: `change ${spec.label.toLowerCase()}` });
  });
  render();
  return { node: el('div', { class: spec.wide === false ? 'field' : 'field wide' }, el('label', { for: id }, spec.label), input, list, why), render };
}

/** Words of several lines. @param {Bench} bench @param {{ pointer: (state: any) => string, label: string, rows?: number, most?: number }} spec @returns {Field} */
export function areaField({ store }, spec) {
  const id = fresh(spec.label);
  const area = el('textarea', { id, class: 'line', rows: String(spec.rows ?? 3), maxlength: String(spec.most ?? 2000), dir: 'auto', 'aria-describedby': `${id}-why` });
  const why = el('p', { class: 'why', id: `${id}-why` });
  const render = () => {
    const pointer = spec.pointer(store.state);
    if (document.activeElement !== area) area.value = valueAt(store.state.doc, pointer) ?? '';
    mark(area, why, store.state, pointer);
  };
  const burst = () => `${id}/${spec.pointer(store.state)}`;
  area.addEventListener('input', () => { if (area.value !== '') store.dispatch({ type: 'put', pointer: spec.pointer(store.state), value: area.value, label: `change ${spec.label.toLowerCase()}`, merge: burst() }); });
  area.addEventListener('blur', render);
  render();
  return { node: el('div', { class: 'field wide' }, el('label', { for: id }, spec.label), area, why), render };
}

/** One of a few, as chips. @param {Bench} bench @param {{ legend: string, choices: [string, string][], value: (state: any) => string, pick: (value: string) => void, pointer?: (state: any) => string }} spec @returns {Field} */
export function choiceField({ store }, spec) {
  const name = fresh(spec.legend);
  const why = el('p', { class: 'why' });
  const inputs = spec.choices.map(([value]) => el('input', { type: 'radio', name, value, onchange: () => spec.pick(value) }));
  const node = el('fieldset', { class: 'kinds wide' }, el('legend', {}, spec.legend), ...inputs.map((input, i) => el('label', {}, input, el('span', {}, spec.choices[i][1]))), why);
  const render = () => {
    const now = spec.value(store.state);
    for (const input of inputs) input.checked = input.value === now;
    if (spec.pointer) mark(inputs[0], why, store.state, spec.pointer(store.state));
  };
  render();
  return { node, render };
}

/** One of many. @param {Bench} bench @param {{ label: string, choices: (state: any) => [string, string][], value: (state: any) => string, pick: (value: string) => void, wide?: boolean }} spec @returns {Field} */
export function selectField({ store }, spec) {
  const id = fresh(spec.label);
  const input = el('select', { id, class: 'line', onchange: () => spec.pick(input.value) });
  let held = '';
  const render = () => {
    const choices = spec.choices(store.state);
    const key = JSON.stringify(choices);
    if (key !== held) { held = key; input.replaceChildren(...choices.map(([value, text]) => el('option', { value }, text))); }
    input.value = spec.value(store.state);
  };
  render();
  return { node: el('div', { class: spec.wide === false ? 'field' : 'field wide' }, el('label', { for: id }, spec.label), input), render };
}

/** Yes or no. @param {Bench} bench @param {{ label: string, pointer: (state: any) => string, usual?: boolean }} spec @returns {Field} */
export function tickField({ store }, spec) {
  const input = el('input', { type: 'checkbox', onchange: () => store.dispatch({ type: 'put', pointer: spec.pointer(store.state), value: input.checked === (spec.usual ?? false) ? undefined : input.checked, label: `change ${spec.label.toLowerCase()}` }) });
  const render = () => { input.checked = valueAt(store.state.doc, spec.pointer(store.state)) ?? spec.usual ?? false; };
  render();
  return { node: el('label', { class: 'tick wide' }, input, el('span', {}, spec.label)), render };
}

/** Fields side by side. @param {Field[]} fields @returns {Field} */
export function group(fields) {
  return { node: el('div', { class: 'fields' }, ...fields.map((one) => one.node)), render: () => { for (const one of fields) one.render(); } };
}

/** Fields behind a heading that opens. @param {string} title @param {Field[]} parts @param {string} [note] @returns {Field} */
export function folded(title, parts, note = '') {
  return {
    node: el('details', { class: 'fold' }, el('summary', {}, title), el('div', { class: 'part' }, note ? el('p', { class: 'hint' }, note) : null, ...parts.map((one) => one.node))),
    render: () => { for (const one of parts) one.render(); },
  };
}

/** A part that is built anew whenever its key changes. @param {Bench} bench @param {(state: any) => string} key @param {(state: any) => Field[]} build @returns {Field} */
export function rebuilt({ store }, key, build) {
  const node = el('div', { class: 'part' });
  /** @type {Field[]} */
  let parts = [];
  let held = '\u0000';
  const render = () => {
    const now = key(store.state);
    if (now !== held) {
      held = now;
      parts = build(store.state);
      node.replaceChildren(...parts.map((one) => one.node));
    } else for (const one of parts) one.render();
  };
  render();
  return { node, render };
}

/** @param {string} text @returns {Field} */
export const hint = (text) => ({ node: el('p', { class: 'hint' }, text), render() {} });

/** A line or list that is written from the state. @param {Bench} bench @param {(state: any) => (Node|string|null)[]} write @param {string} [tag] @param {string} [kind] @returns {Field} */
export function written({ store }, write, tag = 'div', kind = '') {
  const node = el(tag, { class: kind });
  const render = () => node.replaceChildren(...write(store.state).filter((one) => one !== null).map((one) => /** @type {Node|string} */ (one)));
  render();
  return { node, render };
}

/** @param {[string, string][]} rows @returns {HTMLElement} */
export const facts = (rows) => el('dl', { class: 'facts' }, ...rows.map(([term, value]) => el('div', {}, el('dt', {}, term), el('dd', {}, value))));
