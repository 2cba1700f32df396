// @ts-check
/** How a piece stands to itself and to others: copies round the axis, frames, lining up and spreading out; and borders. */
import { arranged, fitted, newBorder, newFrame, rootOf } from '../../core/arranging.js';
import { el } from '../dom.js';
import { choiceField, folded, group, hint, numberField, rebuilt, written } from './fields.js';

/** @type {[string, string][]} */
const KINDS = [['line', 'line'], ['double', 'double line'], ['rope', 'rope'], ['wave', 'wave'], ['zigzag', 'zigzag'], ['leaves', 'leaves']];

/** @param {any} state */
const chosen = (state) => state.doc.artwork[state.selected];
const at = (/** @type {string} */ path) => (/** @type {any} */ state) => `/artwork/${state.selected}/${path}`;
const pressed = (/** @type {string} */ text, /** @type {() => void} */ act) => el('button', { type: 'button', class: 'btn small', onclick: act }, text);

/** @param {any} store @param {string} path @param {unknown} value @param {string} label */
const put = (store, path, value, label) => store.dispatch({ type: 'put', pointer: at(path)(store.state), value, label });

/** @param {any} store @param {any} item @param {string} label */
function add(store, item, label) {
  const last = store.state.doc.artwork.length;
  store.dispatch({ type: 'put', pointer: `/artwork/${last}`, value: item, label });
  store.dispatch({ type: 'select', index: last });
}

/** A border once round the blank, in its middle. @param {any} store */
export function addBorder(store) {
  const { doc, view } = store.state;
  const x = view?.of?.blank === doc.blank ? view.skin.x : null;
  const [low, high] = x ? [x[0], x[x.length - 1]] : [doc.blank.stations?.[0].x_mm ?? 0, doc.blank.length_mm ?? doc.blank.stations?.at(-1).x_mm ?? 90];
  add(store, newBorder(Math.round((low + high) * 5) / 10, doc.artwork[0]?.depth_mm ?? 0.15), 'add a border');
}

/** Copies, frames and lining up, for the placement's form. @param {import('./fields.js').Bench} bench @param {(state: any, index: number) => string} nameOf @returns {import('./fields.js').Field} */
export function arrangingFold(bench, nameOf) {
  const { store } = bench;
  const isFrame = (/** @type {any} */ state) => chosen(state)?.border?.along === 'frame';
  return folded('Arranging', [
    rebuilt(bench, (state) => JSON.stringify([state.selected, isFrame(state), Boolean(chosen(state)?.repeat), chosen(state)?.repeat?.fit]), (state) => (isFrame(state) ? [] : copies(bench, Boolean(chosen(state)?.repeat)))),
    rebuilt(bench, (state) => String([state.selected, Boolean(chosen(state)?.border)]), (state) => (chosen(state)?.border ? [] : [{ node: el('div', { class: 'row' }, pressed('Frame it', () => add(store, newFrame(store.state.doc, store.state.selected), 'add a frame'))), render() {} }])),
    rebuilt(bench, (state) => JSON.stringify([state.selected, state.doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => nameOf(state, i))]), (state) => (state.doc.artwork.length > 1 ? lining(bench, nameOf) : [])),
  ]);
}

/** @param {import('./fields.js').Bench} bench @param {boolean} repeated @returns {import('./fields.js').Field[]} */
function copies(bench, repeated) {
  const { store } = bench;
  if (!repeated) {
    return [{ node: el('div', { class: 'row' },
      pressed('Repeat it round', () => put(store, 'repeat', { times: 6 }, 'repeat the art')),
      pressed('Mirrored pair', () => put(store, 'repeat', { times: 2, mirror: 'alternate' }, 'mirror the art'))), render() {} }];
  }
  const fit = (/** @type {any} */ state) => chosen(state)?.repeat?.fit === true;
  const alike = choiceField(bench, {
    legend: 'Every other copy', choices: [['none', 'as the first'], ['alternate', 'its mirror image']], value: (state) => chosen(state)?.repeat?.mirror ?? 'none', pointer: at('repeat/mirror'),
    pick: (value) => put(store, 'repeat/mirror', value === 'none' ? undefined : value, 'mirror copies'),
  });
  const width = choiceField(bench, {
    legend: 'Width of the copies', choices: [['own', 'as asked'], ['fit', 'so that they meet all the way round']], value: (state) => (fit(state) ? 'fit' : 'own'), pointer: at('repeat/fit'),
    pick: (value) => store.dispatch({ type: 'put', pointer: `/artwork/${store.state.selected}`, value: fitted(chosen(store.state), value === 'fit'), label: 'fit copies round' }),
  });
  return [
    group([
      numberField(bench, { pointer: at('repeat/times'), label: 'Copies', kind: 'whole', least: 2 }),
      ...(fit(store.state) ? [] : [
        numberField(bench, { pointer: at('repeat/every_deg'), label: 'Angle between', kind: 'angle', step: 1, optional: 'even' }),
        numberField(bench, { pointer: at('repeat/step_mm'), label: 'Step along x', optional: true })]),
    ]),
    alike, ...(chosen(store.state)?.border ? [] : [width]),
    { node: el('div', { class: 'row' }, pressed('One piece again', () => put(store, 'repeat', undefined, 'no copies'))), render() {} },
  ];
}

/** Lining up and spreading of pieces that are ticked; the chosen one stays. @param {import('./fields.js').Bench} bench @param {(state: any, index: number) => string} nameOf @returns {import('./fields.js').Field[]} */
function lining({ store }, nameOf) {
  const { doc, selected } = store.state;
  const others = doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => i).filter((/** @type {number} */ i) => i !== selected && rootOf(doc, i) !== rootOf(doc, selected));
  const boxes = others.map((/** @type {number} */ i) => el('input', { type: 'checkbox', value: String(i), checked: true }));
  const act = (/** @type {'x'|'theta'|'spread'} */ how, /** @type {string} */ label) => () => {
    const ticked = others.filter((/** @type {number} */ _, /** @type {number} */ k) => boxes[k].checked);
    store.dispatch({ type: 'document', doc: arranged(store.state.doc, [store.state.selected, ...ticked], how), label });
  };
  return [
    { node: el('fieldset', { class: 'kinds wide' }, el('legend', {}, `Together with ${nameOf(store.state, selected)}, which stays`), ...others.map((/** @type {number} */ i, /** @type {number} */ k) => el('label', { class: 'tick' }, boxes[k], el('span', {}, nameOf(store.state, i))))), render() {} },
    { node: el('div', { class: 'row' }, pressed('Same station x', act('x', 'line up along x')), pressed('Same angle θ', act('theta', 'line up along θ')), pressed('Spread round', act('spread', 'spread round'))), render() {} },
  ];
}

/** What a border or a frame is made of, for the artwork's form. @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function borderFields(bench) {
  const { store } = bench;
  const border = (/** @type {any} */ state) => chosen(state)?.border ?? {};
  const plain = (/** @type {any} */ state) => border(state).kind === 'line' || border(state).kind === 'double';
  const pick = (/** @type {string} */ kind) => {
    const { times, ...rest } = border(store.state);
    put(store, 'border', kind === 'line' || kind === 'double' || times === undefined ? { ...rest, kind } : { ...rest, kind, times }, `border of ${kind}`);
  };
  return [
    choiceField(bench, { legend: 'Border', choices: KINDS, value: (state) => border(state).kind, pick, pointer: at('border/kind') }),
    rebuilt(bench, (state) => JSON.stringify([state.selected, border(state).along, plain(state)]), (state) => [group([
      numberField(bench, { pointer: at('border/height_mm'), label: 'Height of the border', step: 0.1, least: 0.1, optional: '3' }),
      ...(plain(state) ? [] : [numberField(bench, { pointer: at('border/times'), label: 'Motifs', kind: 'whole', least: 1, optional: 'to fit' })]),
      ...(border(state).along === 'frame' ? [
        numberField(bench, { pointer: at('border/margin_mm'), label: 'Margin', step: 0.1, least: 0, optional: '0' }),
        numberField(bench, { pointer: at('border/corner_mm'), label: 'Radius at corners', step: 0.1, least: 0.1, optional: 'by the margin' })] : []),
    ])]),
    written(bench, (state) => [border(state).along === 'frame' ? 'It goes round its piece, and round every copy of that, wherever it is moved.' : 'It goes once round the blank and ends where it began: no gap, nothing cut twice.'], 'p', 'hint'),
  ];
}

/** What is said of a frame in the place of a placement. @returns {import('./fields.js').Field[]} */
export const frameHint = () => [hint('A frame lies where the piece lies that it goes round. Drag either and both move.')];
