// @ts-check
/** What is done to a photograph before it is cut, and a look at it as fine as the tool can cut. */
import { el } from '../dom.js';
import { curveField } from './curve.js';
import { choiceField, folded, group, hint, numberField, rebuilt, tickField } from './fields.js';
import { styleOf } from '../../core/styles.js';

const REST_MS = 250;
const itemOf = (/** @type {any} */ state) => state.doc.artwork[state.selected];
const at = (/** @type {string} */ path) => (/** @type {any} */ state) => `/artwork/${state.selected}/${path}`;

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function pictureFields(bench) {
  const share = (/** @type {string} */ path, /** @type {string} */ label, /** @type {string} */ usual, step = 0.05) => numberField(bench, { pointer: at(path), label, kind: 'plain', step, least: 0, optional: usual });
  return [
    look(bench),
    folded('Frame', [group([
      share('picture/crop/left', 'Cut off left, to', '0'), share('picture/crop/right', 'Cut off right, from', '1'),
      share('picture/crop/top', 'Cut off top, to', '0'), share('picture/crop/bottom', 'Cut off bottom, from', '1'),
      numberField(bench, { pointer: at('picture/turn_deg'), label: 'Turn', kind: 'angle', step: 1, optional: '0' }),
    ])], 'Shares of the turned picture’s width from the left, and of its height from the top.'),
    folded('Light and dark', [
      group([
        numberField(bench, { pointer: at('picture/levels/black'), label: 'Black from', kind: 'plain', step: 5, least: 0, optional: '0' }),
        numberField(bench, { pointer: at('picture/levels/white'), label: 'White from', kind: 'plain', step: 5, least: 1, optional: '255' }),
        numberField(bench, { pointer: at('picture/levels/middle'), label: 'Middle', kind: 'plain', step: 0.1, least: 0.1, optional: '1' }),
      ]),
      curveField(bench, { pointer: at('picture/curve'), read: (state) => itemOf(state)?.picture?.curve }),
      rebuilt(bench, (state) => String(wantsTone(state)), (state) => threshold(bench, wantsTone(state))),
    ]),
    folded('Detail', [group([
      share('picture/local_contrast/amount', 'Local contrast', 'none'),
      numberField(bench, { pointer: at('picture/local_contrast/radius_mm'), label: 'Contrast within', step: 0.5, least: 0.1, optional: '2' }),
      share('picture/sharpen/amount', 'Sharpen', 'none', 0.1),
      numberField(bench, { pointer: at('picture/sharpen/radius_mm'), label: 'Sharpen within', step: 0.05, least: 0.02, optional: '0.2' }),
      share('picture/denoise', 'Take grain out', 'none'),
    ]), ground(bench)]),
    rebuilt(bench, (state) => String(wantsTone(state)), (state) => (wantsTone(state) ? [response(bench)] : [])),
  ];
}

const wantsTone = (/** @type {any} */ state) => styleOf(itemOf(state)?.marking?.style).draws === 'tone';

/** The plain ground behind the thing that is shown. @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function ground(bench) {
  const { store } = bench;
  const held = (/** @type {any} */ state) => itemOf(state)?.picture?.background;
  const input = el('input', { type: 'checkbox', onchange: () => store.dispatch({ type: 'put', pointer: at('picture/background')(store.state), value: input.checked ? {} : undefined, label: 'take the background out' }) });
  const tick = el('label', { class: 'tick wide' }, input, el('span', {}, 'Take a plain background out'));
  return rebuilt(bench, (state) => String(Boolean(held(state))), (state) => [
    { node: tick, render() { input.checked = Boolean(held(store.state)); } },
    ...(held(state) ? [group([numberField(bench, { pointer: at('picture/background/tolerance'), label: 'How unlike it may be', kind: 'plain', step: 0.02, least: 0, optional: '0.08' })])] : []),
  ]);
}

/** How the greys part into cut and uncut. @param {import('./fields.js').Bench} bench @param {boolean} toned @returns {import('./fields.js').Field[]} */
function threshold(bench, toned) {
  const { store } = bench;
  const held = (/** @type {any} */ state) => itemOf(state)?.tone?.threshold;
  const byHand = (/** @type {any} */ state) => typeof held(state) === 'number';
  return [
    ...(toned ? [] : [
      choiceField(bench, {
        legend: 'What counts as dark', choices: [['auto', 'found from the picture'], ['set', 'set by hand']],
        value: (state) => (byHand(state) ? 'set' : 'auto'),
        pick: (value) => store.dispatch({ type: 'put', pointer: at('tone/threshold')(store.state), value: value === 'set' ? 128 : undefined, label: 'change threshold' }),
      }),
      rebuilt(bench, (state) => String(byHand(state)), (state) => (byHand(state) ? [group([numberField(bench, { pointer: at('tone/threshold'), label: 'Threshold, 0 to 255', kind: 'whole', least: 0 })])] : [])),
    ]),
    group([
      numberField(bench, { pointer: at('tone/contrast'), label: 'Contrast, −1 to 1', kind: 'plain', step: 0.1, optional: '0', least: -1 }),
      numberField(bench, { pointer: at('tone/gamma'), label: 'Gamma', kind: 'plain', step: 0.1, optional: '1', least: 0.1 }),
    ]),
    tickField(bench, { pointer: at('tone/invert'), label: 'Cut the light places instead of the dark' }),
  ];
}

/** The picture as the marking is given it, kept in step with the document. @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function look({ store, tools }) {
  const image = el('img', { class: 'look', alt: 'The picture as it will be cut', hidden: true });
  const words = el('p', { class: 'hint', 'aria-live': 'polite' });
  const node = el('figure', { class: 'picture-look' }, image, words);
  let waiting = 0;
  let errand = new AbortController();
  /** @type {any} */
  let shown = null;
  const of = ({ doc, selected }) => JSON.stringify([doc.artwork[selected], doc.tools]);
  async function ask() {
    const { signal } = errand;
    const { doc, selected } = store.state;
    if (image.hidden) words.textContent = 'The picture is being made …';
    try {
      const blob = await tools.api.picture({ ...doc, artwork: [{ ...doc.artwork[selected] }] }, 0, signal);
      const held = image.src;
      image.src = URL.createObjectURL(blob);
      if (held) URL.revokeObjectURL(held);
      image.hidden = false;
      await image.decode();
      words.textContent = `${image.naturalWidth} × ${image.naturalHeight} places, as fine as the tool cuts.`;
    } catch (error) {
      if (!signal.aborted) words.textContent = error instanceof Error ? error.message : '';
    }
    if (!signal.aborted) node.removeAttribute('aria-busy');
  }
  const render = () => {
    const next = of(store.state);
    if (next === shown) return;
    shown = next;
    node.setAttribute('aria-busy', 'true');
    errand.abort();
    errand = new AbortController();
    clearTimeout(waiting);
    waiting = setTimeout(ask, REST_MS);
  };
  render();
  return { node, render };
}

/** What tool and material gave for each dark that was asked, from a card that was cut. @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function response(bench) {
  const { store, tools } = bench;
  const words = hint('');
  const put = (/** @type {any} */ value) => store.dispatch({ type: 'put', pointer: at('picture/response')(store.state), value, label: value ? 'measure the tones' : 'forget the tones' });
  const file = el('input', { type: 'file', class: 'unseen', tabindex: '-1', accept: '.png,.jpg,.jpeg,.webp', 'aria-label': 'Photograph of the cut card', onchange: async () => {
    try {
      const { id } = await tools.api.upload(file.files[0]);
      put(await tools.api.toneCard({ asset: id }));
    } catch (error) { store.dispatch({ type: 'say', text: error instanceof Error ? error.message : 'not read' }); }
    file.value = '';
  } });
  const row = el('div', { class: 'row' },
    el('a', { class: 'btn small', href: tools.api.toneCardUrl(), download: 'tone-card.png' }, 'A card to cut'),
    el('button', { type: 'button', class: 'btn small', onclick: () => file.click() }, 'Read a cut card …'),
    el('button', { type: 'button', class: 'btn small', onclick: () => put(undefined) }, 'Forget it'), file);
  const render = () => {
    const steps = itemOf(store.state)?.picture?.response?.steps;
    words.node.textContent = steps ? `${steps.length} steps were measured: darkest ${Math.round(100 * Math.max(...steps.map((/** @type {any} */ one) => one.measured)))} %.`
      : 'Cut the card with the tool, depth and pitch of this piece, photograph it straight on, crop the photograph to the card’s edge, and read it: greys then come out as they are asked.';
  };
  render();
  return folded('Tool and material', [words, { node: row, render }]);
}
