// @ts-check
/** Lettering: the words, their face and size, and what their lines run along. */
import { areaField, choiceField, folded, group, numberField, rebuilt, selectField, tickField } from './fields.js';

/** @type {[string, string][]} */
const ALONG = [['line', 'round the blank'], ['axis', 'along the axis'], ['helix', 'a helix'], ['arc', 'an arc']];

/** What the lines run along says which numbers go with it. @param {any} text @param {string} along @returns {any} */
function alongOf({ radius_mm: radius, climb_deg: climb, ...rest }, along) {
  const next = { ...rest, along: along === 'line' ? undefined : along };
  if (along === 'arc') next.radius_mm = radius ?? 20;
  if (along === 'helix') next.climb_deg = climb ?? 15;
  return Object.fromEntries(Object.entries(next).filter(([, value]) => value !== undefined));
}

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function lettering(bench) {
  const { store } = bench;
  const text = (/** @type {any} */ state) => state.doc.artwork[state.selected]?.text;
  const at = (/** @type {string} */ name) => (/** @type {any} */ state) => `/artwork/${state.selected}/text/${name}`;
  const along = (/** @type {any} */ state) => text(state)?.along ?? 'line';
  const choice = (/** @type {string} */ name, /** @type {string} */ legend, /** @type {[string, string][]} */ choices, /** @type {string} */ usual) => choiceField(bench, {
    legend, choices, value: (state) => text(state)?.[name] ?? usual, pointer: at(name),
    pick: (value) => store.dispatch({ type: 'put', pointer: at(name)(store.state), value: value === usual ? undefined : value, label: `change ${legend.toLowerCase()}` }),
  });
  return [
    areaField(bench, { pointer: at('string'), label: 'Words' }),
    selectField(bench, {
      label: 'Face', value: (state) => text(state)?.font ?? 'sans', choices: faces,
      pick: (font) => store.dispatch({ type: 'put', pointer: at('font')(store.state), value: font, label: 'change the face' }),
    }),
    group([
      numberField(bench, { pointer: at('size_mm'), label: 'Height of a capital', step: 0.5, least: 0.1 }),
      numberField(bench, { pointer: at('letter_spacing_mm'), label: 'Between letters', step: 0.1, optional: '0' }),
      numberField(bench, { pointer: at('line_spacing'), label: 'Line spacing', kind: 'plain', step: 0.1, least: 0.1, optional: '1' }),
    ]),
    choiceField(bench, {
      legend: 'The lines run', choices: ALONG, value: along, pointer: at('along'),
      pick: (value) => store.dispatch({ type: 'put', pointer: `/artwork/${store.state.selected}/text`, value: alongOf(text(store.state), value), label: 'change what the lines run along' }),
    }),
    rebuilt(bench, along, (state) => (along(state) === 'arc' ? [group([numberField(bench, { pointer: at('radius_mm'), label: 'Radius; below 0 it sags', step: 1 })])]
      : along(state) === 'helix' ? [group([numberField(bench, { pointer: at('climb_deg'), label: 'Climb', kind: 'angle', step: 1, optional: true })])] : [])),
    choice('align', 'Lines are set', [['left', 'left'], ['centre', 'centred'], ['right', 'right']], 'centre'),
    folded('More', [
      choice('direction', 'Read', [['auto', 'as the letters are'], ['ltr', 'left to right'], ['rtl', 'right to left']], 'auto'),
      tickField(bench, { pointer: at('true_size'), label: 'Letters stand at their true height on the skin', usual: true }),
    ]),
  ];
}

/** The shop's faces, and fonts that were uploaded. @param {any} state @returns {[string, string][]} */
function faces({ library, assets, doc, selected }) {
  const own = Object.values(assets).filter((/** @type {any} */ one) => one.kind === 'font').map((/** @type {any} */ one) => /** @type {[string, string]} */ ([one.id, one.name ?? `font ${one.id.slice(0, 6)}`]));
  const shipped = library.faces.map((/** @type {any} */ one) => /** @type {[string, string]} */ ([one.name, `${one.name.replaceAll('-', ' ')}${one.strokes ? ' (lines alone)' : ''}`]));
  const now = doc.artwork[selected]?.text?.font ?? 'sans';
  const known = [...shipped, ...own];
  return known.some(([id]) => id === now) ? known : [...known, [now, now.slice(0, 12)]];
}
