// @ts-check
/** Where a piece of art lies: its centre, size and turn, and how the flat sheet is laid on. */
import { arrangingFold, frameHint } from './arranging.js';
import { choiceField, group, numberField, rebuilt, tickField, written } from './fields.js';
import { nameOf, ofArt } from './artwork.js';

/** @type {[string, string][]} */
export const PROJECTIONS = [['equidistant', 'equidistant'], ['conformal', 'conformal'], ['equal-area', 'equal-area'], ['true-width', 'true-width'], ['from-view', 'from-view'], ['developed', 'developed'], ['fitted', 'fitted']];

/** @type {[string, string][]} */
const KEEPS = [['conformal', 'angles'], ['rigid', 'lengths, as well as can be']];

/** @type {Record<string, string>} */
const WORDS = {
  equidistant: 'Heights are true along the skin; widths are true at the height of the centre.',
  conformal: 'Shapes and angles are kept; sizes grow where the blank is thicker than at the centre and shrink where it is thinner.',
  'equal-area': 'Areas are kept; shapes are squeezed or drawn out.',
  'true-width': 'Heights along the centre line and widths everywhere are true; shapes lean away from the centre line.',
  'from-view': 'Looks undistorted to a person who looks straight at the centre, or from the eye that is chosen.',
  developed: 'A cut paper sleeve: true everywhere, on a cylinder or cone only.',
  fitted: 'A sheet fitted to the art\u2019s own patch of the skin: of all that keep what is chosen, the one that stretches least.',
};

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function placementForm(bench) {
  const item = (/** @type {any} */ state) => state.doc.artwork[state.selected];
  const kind = (/** @type {any} */ state) => [!item(state)?.placement, Boolean(item(state)?.border), item(state)?.repeat?.fit === true].join();
  return [rebuilt(bench, kind, (state) => (item(state)?.placement ? lying(bench, item(state)) : frameHint())), arrangingFold(bench, nameOf)];
}

const at = (/** @type {string} */ path) => (/** @type {any} */ state) => ofArt(state, `placement/${path}`);
const placementOf = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.placement ?? {};
const projectionOf = (/** @type {any} */ state) => placementOf(state).projection ?? 'equidistant';

/** @param {import('./fields.js').Bench} bench @param {any} piece @returns {import('./fields.js').Field[]} */
function lying(bench, { border, repeat }) {
  const { store } = bench;
  const turns = !border && !repeat?.fit;
  return [
    group([
      numberField(bench, { pointer: at('x_mm'), label: 'Station x' }),
      numberField(bench, { pointer: at('angle_deg'), label: 'Angle θ', kind: 'angle', optional: true }),
      ...(turns ? [numberField(bench, { pointer: at('width_mm'), label: 'Width', optional: 'to match', least: 0.1 })] : []),
      ...(border ? [] : [numberField(bench, { pointer: at('height_mm'), label: 'Height', optional: 'to match', least: 0.1 })]),
      ...(turns ? [numberField(bench, { pointer: at('turn_deg'), label: 'Turn', kind: 'angle', step: 1, optional: true })] : []),
      tickField(bench, { pointer: at('mirror'), label: 'Mirror left and right' }),
    ]),
    choiceField(bench, {
      legend: 'How the flat sheet is laid on', choices: PROJECTIONS, value: projectionOf, pointer: at('projection'),
      pick: (value) => { const { fit, eye, ...rest } = placementOf(store.state); lay(store, { ...rest, projection: value }, `lay on ${value}`); },
    }),
    written(bench, (state) => [WORDS[projectionOf(state)] ?? ''], 'p', 'hint'),
    rebuilt(bench, (state) => `${projectionOf(state)} ${placementOf(state).eye ? 'eye' : ''}`, (state) => ofProjection(bench, projectionOf(state))),
  ];
}

/** @param {any} store @param {any} next @param {string} label */
const lay = (store, next, label) => store.dispatch({ type: 'put', pointer: ofArt(store.state, 'placement'), value: next, label });

/** What a projection asks beside. @param {import('./fields.js').Bench} bench @param {string} projection @returns {import('./fields.js').Field[]} */
function ofProjection(bench, projection) {
  const { store } = bench;
  if (projection === 'fitted') {
    return [choiceField(bench, {
      legend: 'The fitted sheet keeps', choices: KEEPS, value: (each) => placementOf(each).fit ?? 'conformal', pointer: at('fit'),
      pick: (value) => store.dispatch({ type: 'put', pointer: at('fit')(store.state), value: value === 'conformal' ? undefined : value, label: 'change what the sheet keeps' }),
    })];
  }
  if (projection !== 'from-view') return [];
  const eye = choiceField(bench, {
    legend: 'Seen', choices: [['straight', 'straight on at the centre'], ['eye', 'from a chosen eye']], value: (each) => (placementOf(each).eye ? 'eye' : 'straight'), pointer: at('eye'),
    pick: (value) => { const { eye: held, ...rest } = placementOf(store.state); lay(store, value === 'eye' ? { ...rest, eye: held ?? { x_mm: rest.x_mm, angle_deg: rest.angle_deg ?? 0 } } : rest, 'change where it is seen from'); },
  });
  return placementOf(store.state).eye ? [eye, group([
    numberField(bench, { pointer: at('eye/x_mm'), label: 'Eye at station' }),
    numberField(bench, { pointer: at('eye/angle_deg'), label: 'Eye at angle', kind: 'angle' }),
    numberField(bench, { pointer: at('eye/distance_mm'), label: 'Eye from the axis', optional: 'far away', least: 1 }),
  ])] : [eye];
}
