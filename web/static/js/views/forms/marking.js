// @ts-check
/** How the art is drawn with a point: its style, spacing and depth. */
import { choiceField, group, numberField, rebuilt, tickField } from './fields.js';
import { ofArt } from './artwork.js';

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function markingForm(bench) {
  const { store } = bench;
  const at = (/** @type {string} */ path) => (/** @type {any} */ state) => ofArt(state, path);
  const style = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.marking?.style ?? 'hatch';
  return [
    choiceField(bench, {
      legend: 'Style', choices: [['outline', 'outline'], ['hatch', 'hatch']], value: style,
      pick: (value) => store.dispatch({ type: 'put', pointer: ofArt(store.state, 'marking'), value: { style: value }, label: `mark by ${value}` }),
    }),
    rebuilt(bench, style, (state) => (style(state) === 'outline' ? [] : [
      group([
        numberField(bench, { pointer: at('marking/pitch_mm'), label: 'Pitch on the skin', step: 0.05, least: 0.01, optional: 'by the tool' }),
        numberField(bench, { pointer: at('marking/angle_deg'), label: 'Angle of the lines', kind: 'angle', step: 5, optional: true }),
        numberField(bench, { pointer: at('marking/inset_mm'), label: 'Inset from the edge', step: 0.05, least: 0, optional: true }),
        tickField(bench, { pointer: at('marking/outline'), label: 'Run the outline too' }),
      ]),
    ])),
    group([
      numberField(bench, { pointer: at('depth_mm'), label: 'Depth', step: 0.01, least: 0.005 }),
      numberField(bench, { pointer: at('passes'), label: 'Full-depth passes', kind: 'whole', least: 1, optional: true }),
      numberField(bench, { pointer: at('step_mm'), label: 'Step a pass', step: 0.01, least: 0.005, optional: 'all at once' }),
    ]),
    choiceField(bench, {
      legend: 'Direction of cut', choices: [['uphill', 'uphill only'], ['any', 'either way']],
      value: (state) => state.doc.artwork[state.selected]?.direction ?? 'uphill',
      pick: (value) => store.dispatch({ type: 'put', pointer: ofArt(store.state, 'direction'), value: value === 'uphill' ? undefined : value, label: `cut ${value}` }),
    }),
    rebuilt(bench, (state) => state.doc.artwork[state.selected]?.direction ?? 'uphill', (state) => ((state.doc.artwork[state.selected]?.direction ?? 'uphill') === 'uphill'
      ? [group([numberField(bench, { pointer: at('level_mm'), label: 'Level within', step: 0.01, least: 0, optional: true })])] : [])),
  ];
}
