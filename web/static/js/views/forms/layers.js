// @ts-check
/** How a DXF drawing is taken: its unit, its layers, and whether closed lines are areas. */
import { el } from '../dom.js';
import { choiceField, tickField } from './fields.js';

const itemOf = (/** @type {any} */ state) => state.doc.artwork[state.selected];
const factsOf = (/** @type {any} */ state) => state.assets[itemOf(state)?.asset];

/** @param {any} state @returns {boolean} */
export const isDxf = (state) => factsOf(state)?.media_type === 'image/vnd.dxf';

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function layers(bench) {
  const { store } = bench;
  const at = (/** @type {string} */ name) => (/** @type {any} */ state) => `/artwork/${state.selected}/drawing/${name}`;
  const chosen = (/** @type {any} */ state) => itemOf(state)?.drawing?.layers ?? null;
  const put = (/** @type {string[]|undefined} */ value) => store.dispatch({ type: 'put', pointer: at('layers')(store.state), value, label: 'choose layers' });
  const names = factsOf(store.state)?.layers ?? [];
  const inputs = names.map((/** @type {string} */ name) => el('input', { type: 'checkbox', onchange: () => {
    const on = names.filter((/** @type {string} */ _, /** @type {number} */ i) => inputs[i].checked);
    put(on.length === names.length ? undefined : on);
  } }));
  const list = el('fieldset', { class: 'kinds wide layers' }, el('legend', {}, 'Layers'), ...names.map((/** @type {string} */ name, /** @type {number} */ i) => el('label', { class: 'tick' }, inputs[i], el('span', {}, name))));
  const render = () => inputs.forEach((/** @type {HTMLInputElement} */ input, /** @type {number} */ i) => { input.checked = chosen(store.state)?.includes(names[i]) ?? true; });
  render();
  return [
    choiceField(bench, {
      legend: 'A unit of the drawing is', choices: [['file', 'as the file says'], ['mm', '1 mm'], ['inch', '1 inch'], ['cm', '1 cm'], ['m', '1 m']], pointer: at('unit'),
      value: (state) => itemOf(state)?.drawing?.unit ?? 'file',
      pick: (value) => store.dispatch({ type: 'put', pointer: at('unit')(store.state), value: value === 'file' ? undefined : value, label: 'change the unit of the drawing' }),
    }),
    ...(names.length ? [{ node: list, render }] : []),
    tickField(bench, { pointer: at('fill_closed'), label: 'Closed lines are areas' }),
  ];
}
