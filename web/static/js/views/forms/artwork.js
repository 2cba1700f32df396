// @ts-check
/** What should appear: the pieces of art, and how a picture becomes dark and light. */
import { withoutArt } from '../../core/arranging.js';
import { artName } from '../../core/names.js';
import { el } from '../dom.js';
import { addBorder, borderFields } from './arranging.js';
import { group, rebuilt, textField } from './fields.js';
import { isDxf, layers } from './layers.js';
import { lettering } from './lettering.js';
import { pictureFields } from './picture.js';
import { addText, takeFiles } from './upload.js';

/** @param {any} state @param {string} path */
export const ofArt = (state, path) => `/artwork/${state.selected}/${path}`;

/** What is shown of a piece of art. @param {any} state @param {number} index @returns {string} */
export const nameOf = (state, index) => artName(state.doc.artwork[index], index, state.assets[state.doc.artwork[index].asset]?.name);

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function artworkForm(bench) {
  const { store } = bench;
  const file = el('input', { type: 'file', multiple: true, class: 'unseen', tabindex: '-1', 'aria-label': 'Artwork file', accept: '.svg,.dxf,.png,.jpg,.jpeg,.webp,.bmp,.gif,.ttf,.otf,.ttc', onchange: () => { takeFiles(bench, [...file.files]); file.value = ''; } });
  const drop = el('div', { class: 'drop-zone' },
    el('div', { class: 'row' },
      el('button', { type: 'button', class: 'btn small', onclick: () => file.click() }, 'Add artwork'),
      el('button', { type: 'button', class: 'btn small', onclick: () => addText(store) }, 'Add lettering'),
      el('button', { type: 'button', class: 'btn small', onclick: () => addBorder(store) }, 'Add a border')),
    el('p', {}, 'or drop a file here: SVG, DXF, PNG, JPEG, WebP, BMP or GIF; a TrueType or OpenType font letters the chosen piece'), file);
  for (const kind of ['dragenter', 'dragover']) drop.addEventListener(kind, (/** @type {DragEvent} */ event) => { event.preventDefault(); drop.classList.add('over'); });
  for (const kind of ['dragleave', 'drop']) drop.addEventListener(kind, () => drop.classList.remove('over'));
  drop.addEventListener('drop', (/** @type {DragEvent} */ event) => { event.preventDefault(); takeFiles(bench, [...(event.dataTransfer?.files ?? [])]); });
  const list = rebuilt(bench, (state) => JSON.stringify(state.doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => nameOf(state, i))), (state) => state.doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => artRow(store, i)));
  return [
    list, { node: drop, render() {} },
    rebuilt(bench, (state) => String(state.doc.artwork.length > 0), (state) => (state.doc.artwork.length ? [group([textField(bench, { pointer: (now) => ofArt(now, 'name'), label: 'Name of this piece', most: 80 })])] : [])),
    rebuilt(bench, (state) => `${state.selected}/${Boolean(state.doc.artwork[state.selected]?.border)}`, (state) => (state.doc.artwork[state.selected]?.border ? borderFields(bench) : [])),
    rebuilt(bench, (state) => `${state.selected}/${Boolean(state.doc.artwork[state.selected]?.text)}`, (state) => (state.doc.artwork[state.selected]?.text ? lettering(bench) : [])),
    rebuilt(bench, (state) => `${state.selected}/${(state.assets[state.doc.artwork[state.selected]?.asset]?.layers ?? []).join('\n')}/${isDxf(state)}`, (state) => (isDxf(state) ? layers(bench) : [])),
    rebuilt(bench, (state) => `${state.selected}/${state.assets[state.doc.artwork[state.selected]?.asset]?.kind === 'raster'}`, (state) => (state.assets[state.doc.artwork[state.selected]?.asset]?.kind === 'raster' ? pictureFields(bench) : [])),
  ];
}

/** What says how large lettering is: its placement, or its copies, before the height of its capitals. @param {any} item @returns {string} */
function letteringSize(item) {
  const short = (/** @type {number} */ mm) => Number(mm.toFixed(2));
  const { height_mm: high, width_mm: wide } = item.placement ?? {};
  if (high) return `${short(high)} mm high`;
  if (item.repeat?.fit) return 'fitted round';
  return wide ? `${short(wide)} mm wide` : `${short(item.text.size_mm)} mm`;
}

/** @param {any} store @param {number} i @returns {import('./fields.js').Field} */
function artRow(store, i) {
  const input = el('input', { type: 'radio', name: 'art-selected', value: String(i), onchange: () => store.dispatch({ type: 'select', index: i }) });
  const name = el('span', { class: 'name' });
  const size = el('span', { class: 'size' });
  const remove = el('button', { type: 'button', class: 'drop', onclick: () => store.dispatch({ type: 'document', doc: withoutArt(store.state.doc, i), label: 'remove art' }) }, '×');
  const again = el('button', { type: 'button', class: 'drop', onclick: () => {
    const { placement, ...item } = store.state.doc.artwork[i];
    const there = placement ? { placement: { ...placement, angle_deg: (((placement.angle_deg ?? 0) + 270) % 360) - 180 } } : {};
    store.dispatch({ type: 'put', pointer: `/artwork/${store.state.doc.artwork.length}`, value: { ...item, ...there }, label: 'repeat art' });
    store.dispatch({ type: 'select', index: store.state.doc.artwork.length - 1 });
  } }, '+');
  const render = () => {
    const { state } = store;
    const item = state.doc.artwork[i];
    if (!item) return;
    const facts = state.assets[item.asset];
    input.checked = state.selected === i;
    name.textContent = nameOf(state, i);
    const times = item.repeat?.times > 1 ? `, ${item.repeat.times} copies` : '';
    size.textContent = item.border ? `border, ${item.border.height_mm ?? 3} mm${times}` : item.text ? `lettering, ${letteringSize(item)}${times}` : facts ? `${facts.kind === 'raster' ? 'picture' : 'drawing'}${facts.width ? `, ${Number(facts.width.toFixed(1))} × ${Number(facts.height.toFixed(1))}${facts.kind === 'raster' ? ' px' : ''}` : ''}${times}` : '';
    remove.setAttribute('aria-label', `remove ${name.textContent}`);
    again.setAttribute('aria-label', `repeat ${name.textContent} a quarter turn on`);
    again.title = 'repeat a quarter turn on';
  };
  render();
  return { node: el('div', { class: 'art' }, el('label', {}, input, name, size), again, remove), render };
}
