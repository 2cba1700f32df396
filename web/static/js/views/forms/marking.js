// @ts-check
/** How the art is drawn with a point: its style, spacing and depth. */
import { choiceField, group, numberField, rebuilt, selectField, tickField, written } from './fields.js';
import { ofArt } from './artwork.js';
import { STYLES, restyled, styleOf } from '../../core/styles.js';
import { NEW_CLEARING, withClearing } from '../../core/tools.js';

const markingOf = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.marking;
const nameOf = (/** @type {any} */ state) => markingOf(state)?.style ?? 'hatch';

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function markingForm(bench) {
  const { store } = bench;
  const at = (/** @type {string} */ path) => (/** @type {any} */ state) => ofArt(state, path);
  const direction = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.direction ?? 'uphill';
  return [
    choiceField(bench, {
      legend: 'Style', choices: STYLES.map(({ id }) => [id, id]), value: nameOf, pointer: at('marking'),
      pick: (value) => store.dispatch({ type: 'put', pointer: ofArt(store.state, 'marking'), value: restyled(markingOf(store.state), value), label: `mark by ${value}` }),
    }),
    written(bench, (state) => [styleOf(nameOf(state)).words], 'p', 'hint'),
    rebuilt(bench, (state) => JSON.stringify([state.selected, nameOf(state), markingOf(state)?.lines]), (state) => options(bench, styleOf(nameOf(state)))),
    group([
      numberField(bench, { pointer: at('depth_mm'), label: 'Depth', step: 0.01, least: 0.005 }),
      numberField(bench, { pointer: at('passes'), label: 'Full-depth passes', kind: 'whole', least: 1, optional: true }),
      numberField(bench, { pointer: at('step_mm'), label: 'Step a pass', step: 0.01, least: 0.005, optional: 'all at once' }),
    ]),
    choiceField(bench, {
      legend: 'Direction of cut', choices: [['uphill', 'uphill only'], ['any', 'either way']], value: direction,
      pick: (value) => store.dispatch({ type: 'put', pointer: ofArt(store.state, 'direction'), value: value === 'uphill' ? undefined : value, label: `cut ${value}` }),
    }),
    rebuilt(bench, direction, (state) => (direction(state) === 'uphill'
      ? [group([numberField(bench, { pointer: at('level_mm'), label: 'Level within', step: 0.01, least: 0, optional: true })])] : [])),
  ];
}

/** The fields of one style's own. @param {import('./fields.js').Bench} bench @param {import('../../core/styles.js').StyleOf} style @returns {import('./fields.js').Field[]} */
function options(bench, { choices = [], numbers = [], ticks = [], clears }) {
  const { store } = bench;
  const at = (/** @type {string} */ name) => (/** @type {any} */ state) => ofArt(state, `marking/${name}`);
  const shown = numbers.filter(({ when }) => when?.(markingOf(store.state)) ?? true);
  return [
    ...choices.map((one) => choiceField(bench, {
      legend: one.legend, choices: one.choices, value: (state) => markingOf(state)?.[one.name] ?? one.choices[0][0], pointer: at(one.name),
      pick: (value) => store.dispatch({ type: 'put', pointer: at(one.name)(store.state), value: value === one.choices[0][0] ? undefined : value, label: `change ${one.legend.toLowerCase()}` }),
    })),
    ...(shown.length + ticks.length ? [group([
      ...shown.map(({ name, when, ...spec }) => numberField(bench, { ...spec, pointer: at(name) })),
      ...ticks.map((one) => tickField(bench, { pointer: at(one.name), label: one.label, usual: one.usual })),
    ])] : []),
    ...(clears ? clearing(bench) : []),
  ];
}

/** The tool that clears what the art's own need not. @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
function clearing(bench) {
  const { store } = bench;
  const named = (/** @type {any} */ state) => [...(state.doc.tools ?? []), ...state.library.tools].map((/** @type {any} */ one) => one.id);
  const now = (/** @type {any} */ state) => markingOf(state)?.clearing_tool ?? '';
  const placeOf = (/** @type {any} */ state) => (state.doc.tools ?? []).findIndex((/** @type {any} */ one) => one.id === now(state));
  return [
    selectField(bench, {
      label: 'Clearing tool',
      choices: (state) => [['', 'the art’s own tool'], ...[...new Set(named(state))].map((id) => /** @type {[string, string]} */ ([id, id])), [NEW_CLEARING, 'a new flat end …']],
      value: now,
      pick: (value) => store.dispatch({ type: 'document', doc: withClearing(store.state.doc, store.state.selected, value), label: 'change the clearing tool' }),
    }),
    rebuilt(bench, (state) => String(placeOf(state)), (state) => (placeOf(state) >= 0 ? [group([
      numberField(bench, { pointer: (each) => `/tools/${placeOf(each)}/diameter_mm`, label: 'Clearing ⌀', step: 0.1, least: 0.05, optional: true }),
    ])] : [])),
  ];
}
