// @ts-check
/** A plot with its heading, its switches, its face and its table; and how marks become nodes. */
import { el, svg } from '../dom.js';

/** @param {import('../../core/measured/axes.js').Mark} mark @returns {SVGElement} */
export const node = ([tag, attributes, ...children]) => svg(tag, attributes, ...children.map((child) => (typeof child === 'string' ? child : node(child))));

/** @param {import('../../core/measured/tables.js').Table} table */
export const tableNode = ({ caption, head, rows }) => el('table', { class: 'figures' }, el('caption', {}, caption),
  el('thead', {}, el('tr', {}, ...head.map((word) => el('th', { scope: 'col' }, word)))),
  el('tbody', {}, ...rows.map(([first, ...rest]) => el('tr', {}, el('th', { scope: 'row' }, first), ...rest.map((word) => el('td', {}, word))))));

/**
 * @param {{ kind: string, title: string, about: string, keys?: string, tools?: Node[] }} spec `keys`: what the arrows do; without, the face takes no focus
 * @returns {any} the figure and its parts; `draw(marks)` fills the face, `over(marks)` what moves above it
 */
export function panel({ kind, title, about, keys, tools = [] }) {
  const [marks, over] = [svg('g'), svg('g', { class: 'over' })];
  const drawing = svg('svg', { 'aria-hidden': 'true' }, marks, over);
  const canvas = el('canvas', { 'aria-hidden': 'true', hidden: true });
  const live = keys ? { tabindex: '0', role: 'application', 'aria-roledescription': 'plot', 'aria-describedby': `plot-${kind}-keys plots-now` } : { role: 'img' };
  const face = el('div', { class: `face ${kind}`, 'aria-label': `${title}: ${about}`, ...live }, canvas, drawing);
  const table = el('div', { class: 'figures-held', tabindex: '0', role: 'group', 'aria-label': `${title} as a table` });
  const fold = el('details', { class: 'fold' }, el('summary', {}, 'As a table', el('span', { class: 'unseen' }, `: ${title.toLowerCase()}`)), table);
  const figure = el('figure', { class: `plot ${kind}` },
    el('figcaption', { class: 'plot-cap' }, el('h3', {}, title), el('span', { class: 'gap' }), ...tools), face,
    keys ? el('p', { class: 'unseen', id: `plot-${kind}-keys` }, keys) : null, fold);
  /** @type {(() => import('../../core/measured/tables.js').Table)|null} */
  let tabled = null;
  const fill = () => { if (fold.open && tabled) table.replaceChildren(tableNode(tabled())); };
  fold.addEventListener('toggle', fill);
  return {
    figure, face, canvas,
    /** @returns {[number, number]} px */
    size: () => [Math.max(80, face.clientWidth), Math.max(60, face.clientHeight)],
    /** @param {import('../../core/measured/axes.js').Mark[]} list */
    draw(list) { marks.replaceChildren(...list.map(node)); },
    /** @param {import('../../core/measured/axes.js').Mark[]} list */
    over(list) { over.replaceChildren(...list.map(node)); },
    /** The table is made when it is opened. @param {() => import('../../core/measured/tables.js').Table} make */
    table(make) { tabled = make; fill(); },
  };
}
