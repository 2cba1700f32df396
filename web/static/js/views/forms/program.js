// @ts-check
/** What comes out: check code, files, and the cautions that belong to running it. */
import { el } from '../dom.js';
import { facts, written } from './fields.js';
import { formatCount } from '../../core/units.js';

/** Said where a plan has not sent its own list yet. @type {{ about: string, text: string, see?: string }[]} */
const CAUTIONS = [{ about: 'Follow local codes', text: 'Follow local codes, licensed practice and the makers’ instructions; they stand above this page.' }];

/** @type {['a4'|'letter', string][]} */
const PAPERS = [['a4', 'A4'], ['letter', 'Letter']];

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function programForm(bench) {
  const { api } = bench.tools;
  return [
    written(bench, ({ plan }) => {
      const program = plan.report?.program;
      if (!program) return [el('p', { class: 'hint' }, 'The program comes with the plan.')];
      return [facts([['Check code', program.check_code ?? '–'], ['Lines', formatCount(program.lines ?? 0)]]),
        el('p', { class: 'hint' }, 'The check code stands in the program’s first lines and on the sheet: three that agree belong together; it is the short form of the SHA-256 of all that stands under the header. Walk follows the outline above the skin; the air run does the whole work above it.'),
        program.body_sha256 ? el('p', { class: 'hint sum' }, 'SHA-256 ', el('code', {}, program.body_sha256)) : null,
        plan.id ? el('p', { class: 'row' }, el('a', { class: 'link', href: api.pictureUrl(plan.id), target: '_blank', rel: 'noopener' }, 'Picture of the carved skin'),
          ...PAPERS.map(([page, name]) => el('a', { class: 'link', href: api.paperUrl(plan.id, page), download: '' }, `Paper pattern, ${name}`))) : null];
    }),
    resume(bench),
    written(bench, ({ plan }) => [el('h3', { class: 'title' }, 'Cautions'), el('ul', { class: 'cautions' }, ...(plan.report?.cautions ?? CAUTIONS).map((/** @type {any} */ one) => el('li', {}, el('b', {}, `${one.about}. `), one.text, one.see ? el('span', { class: 'see' }, ` ${one.see}`) : null)))]),
  ];
}

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field} */
function resume(bench) {
  const { store, tools } = bench;
  const input = el('input', { id: 'resume-from', type: 'number', min: '1', step: '1', value: '1', class: 'line' });
  const said = el('p', { class: 'hint', role: 'status' });
  const told = (/** @type {string} */ text) => { said.textContent = text; };
  const ask = () => document.dispatchEvent(new CustomEvent('bench-rest', { detail: { from: Math.max(1, Math.round(Number(input.value) || 1)), told } }));
  const link = el('button', { type: 'button', class: 'btn small', onclick: ask }, 'Engraving from there');
  const node = el('div', { class: 'field wide' }, el('label', { for: 'resume-from' }, 'Go on from stroke (after a broken tip)'), el('div', { class: 'row' }, input, link), said);
  return { node, render: () => { node.hidden = !(store.state.plan.report?.strokes > 1); input.max = String(store.state.plan.report?.strokes ?? 1); void tools; } };
}
