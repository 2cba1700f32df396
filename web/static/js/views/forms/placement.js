// @ts-check
/** Where a piece of art lies: its centre, size and turn, and how the flat sheet is laid on. */
import { choiceField, group, hint, numberField, tickField } from './fields.js';
import { ofArt } from './artwork.js';

/** @type {[string, string][]} */
export const PROJECTIONS = [['equidistant', 'equidistant'], ['conformal', 'conformal'], ['equal-area', 'equal-area'], ['true-width', 'true-width'], ['from-view', 'from-view'], ['developed', 'developed']];

/** @type {Record<string, string>} */
const WORDS = {
  equidistant: 'Heights are true along the skin; widths are true at the height of the centre.',
  conformal: 'Shapes and angles are kept; sizes grow where the blank is thicker than at the centre and shrink where it is thinner.',
  'equal-area': 'Areas are kept; shapes are squeezed or drawn out.',
  'true-width': 'Heights along the centre line and widths everywhere are true; shapes lean away from the centre line.',
  'from-view': 'Looks undistorted to a person who looks straight at the centre.',
  developed: 'A cut paper sleeve: true everywhere, on a cylinder or cone only.',
};

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function placementForm(bench) {
  const { store } = bench;
  const at = (/** @type {string} */ path) => (/** @type {any} */ state) => ofArt(state, `placement/${path}`);
  const now = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.placement.projection ?? 'equidistant';
  const words = hint('');
  return [
    group([
      numberField(bench, { pointer: at('x_mm'), label: 'Station x' }),
      numberField(bench, { pointer: at('angle_deg'), label: 'Angle θ', kind: 'angle', optional: true }),
      numberField(bench, { pointer: at('width_mm'), label: 'Width', optional: 'to match', least: 0.1 }),
      numberField(bench, { pointer: at('height_mm'), label: 'Height', optional: 'to match', least: 0.1 }),
      numberField(bench, { pointer: at('turn_deg'), label: 'Turn', kind: 'angle', step: 1, optional: true }),
      tickField(bench, { pointer: at('mirror'), label: 'Mirror left and right' }),
    ]),
    choiceField(bench, {
      legend: 'How the flat sheet is laid on', choices: PROJECTIONS, value: now, pointer: at('projection'),
      pick: (value) => store.dispatch({ type: 'put', pointer: at('projection')(store.state), value, label: `lay on ${value}` }),
    }),
    { node: words.node, render: () => { words.node.textContent = WORDS[now(store.state)] ?? ''; } },
  ];
}
