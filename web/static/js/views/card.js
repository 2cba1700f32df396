// @ts-check
/** The route card: the operations in shop order, each with its state in a line and its form. */
import { placementOf } from '../core/arranging.js';
import { el } from './dom.js';
import { artworkForm, nameOf } from './forms/artwork.js';
import { blankForm } from './forms/blank.js';
import { markingForm } from './forms/marking.js';
import { placementForm } from './forms/placement.js';
import { percent, proofForm } from './forms/proof.js';
import { programForm } from './forms/program.js';
import { toolForm, toolWords } from './forms/tool.js';
import { toolOf } from '../core/tools.js';
import { rebuilt } from './forms/fields.js';
import { gateOf } from '../core/findings.js';
import { artOf, operationOf } from '../core/document.js';
import { angleWords, lengthWords } from '../core/quantity.js';
import { formatClock, formatCount } from '../core/units.js';

/** @typedef {[string, string, string]} Line state, tone, summary */

const NO_ART = /** @type {Line} */ (['waiting', 'idle', 'add artwork first']);

/** @type {Record<string, (state: any) => Line>} */
const LINES = {
  blank({ doc, view, unit }) {
    const { blank } = doc;
    const x = view?.skin.x;
    const long = x ? lengthWords(x[x.length - 1] - x[0], unit) : blank.length_mm ? lengthWords(blank.length_mm, unit) : '';
    const keep = blank.keep_out?.length ? `${blank.keep_out.length} keep-out${blank.keep_out.length > 1 ? 's' : ''}` : '';
    return [blank.shape === 'grid' ? 'measured' : blank.shape === 'stations' ? `${blank.stations.length} stations` : blank.shape, 'good', [blank.material, long && `${long} long`, keep].filter(Boolean).join(', ')];
  },
  artwork(state) {
    const n = state.doc.artwork.length;
    return n ? [n === 1 ? '1 piece' : `${n} pieces`, 'good', state.doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => nameOf(state, i)).join(', ')] : ['wanted', 'warn', 'SVG or a picture'];
  },
  placement({ doc, selected, unit, plan }) {
    const item = doc.artwork[selected];
    if (!item) return NO_ART;
    const placement = placementOf(doc, selected);
    const scale = plan.of === doc ? plan.report?.scale : null;
    const stretch = scale?.least ? Math.max(scale.greatest - 1, 1 - scale.least) : null;
    return [stretch === null ? '' : stretch < 0.0005 ? 'true to scale' : `stretch ${percent(stretch)}`, stretch !== null && stretch > 0.1 ? 'warn' : 'good', `x ${lengthWords(placement.x_mm, unit)}, ${angleWords(placement.angle_deg ?? 0)}, ${placement.projection ?? 'equidistant'}`];
  },
  marking({ doc, selected, unit, plan }) {
    const item = doc.artwork[selected];
    if (!item) return NO_ART;
    const style = item.marking?.style ?? 'hatch';
    const strokes = plan.report && plan.of === doc ? `, ${formatCount(plan.report.strokes)} strokes` : '';
    return [style === 'hatch' && item.marking?.outline ? 'hatch and outline' : style, 'good', `${lengthWords(item.depth_mm, unit)} deep, ${item.direction === 'any' ? 'either way' : 'uphill'}${strokes}`];
  },
  tool(state) {
    const machine = state.doc.machine;
    const name = typeof machine === 'string' ? machine : machine?.profile ?? machine?.name;
    const feed = state.doc.artwork[state.selected]?.feed_mm_min ?? state.plan.report?.defaults?.find((/** @type {any} */ one) => one.pointer === `/artwork/${state.selected}/feed_mm_min`)?.value;
    return [toolWords(toolOf(state)), 'good', [feed ? `feed ${feed} mm/min` : '', `machine ${name || 'default'}`].filter(Boolean).join(', ')];
  },
  proof({ plan, ticks, doc }) {
    const { report } = plan;
    if (!report || plan.of !== doc) return [plan.state === 'refused' ? 'waiting' : '…', 'idle', plan.state === 'refused' ? 'the job has faults to mend' : 'being reckoned'];
    const gate = gateOf(report.findings ?? [], ticks);
    const cut = report.fidelity ? `${percent(report.fidelity.art_cut)} of the art cut` : 'nothing to cut yet';
    if (gate.errors) return [`${gate.errors} error${gate.errors > 1 ? 's' : ''}`, 'bad', cut];
    return gate.open ? [`${gate.open} to acknowledge`, 'warn', cut] : ['clear', 'good', cut];
  },
  program({ plan, doc, ticks }) {
    const { report } = plan;
    if (!report || plan.of !== doc) return ['waiting', 'idle', 'sheet, walk, air run, engraving'];
    const gate = gateOf(report.findings ?? [], ticks);
    const time = report.time_s ? `${formatClock(report.time_s.total)} in all` : '';
    return [gate.shut || !report.program ? 'shut' : 'ready', gate.shut || !report.program ? 'idle' : 'good', report.program ? `${formatCount(report.program.lines)} lines, ${time}` : 'withheld'];
  },
};

/** @type {[string, string, (bench: any) => import('./forms/fields.js').Field[], boolean][]} id, title, form, needs art */
const OPERATIONS = [
  ['blank', 'Blank', blankForm, false], ['artwork', 'Artwork', artworkForm, false], ['placement', 'Placement', placementForm, true],
  ['marking', 'Marking', markingForm, true], ['tool', 'Tool and machine', toolForm, true], ['proof', 'Proof', proofForm, false], ['program', 'Program', programForm, false],
];

/** @param {HTMLElement} element @param {any} store @param {any} tools */
export function mountCard(element, store, tools) {
  const bench = { store, tools };
  const rows = OPERATIONS.map(([id, title, form, art], index) => {
    const [state, sum] = [el('span', { class: 'state' }), el('span', { class: 'sum' })];
    const button = el('button', { type: 'button', class: 'op', id: `op-${id}-button`, 'aria-expanded': 'false', 'aria-controls': `op-${id}`, onclick: () => store.dispatch({ type: 'open', value: id }) },
      el('span', { class: 'n' }, String(index + 1)), el('span', { class: 't' }, title), state, sum);
    const body = el('div', { class: 'form', id: `op-${id}`, role: 'group', 'aria-label': title });
    /** @type {import('./forms/fields.js').Field|null} */
    let held = null;
    const row = el('li', {}, button, body);
    const render = () => {
      const open = store.state.open === id;
      row.classList.toggle('open', open);
      button.setAttribute('aria-expanded', String(open));
      body.hidden = !open;
      const [word, tone, words] = faulty(store.state, id) ?? LINES[id](store.state);
      state.textContent = word;
      state.className = `state ${tone}`;
      sum.textContent = words;
      sum.title = words;
      if (!open) return;
      if (held) { held.render(); return; }
      held = rebuilt(bench, (now) => String(!art || now.doc.artwork.length > 0), (now) => (art && !now.doc.artwork.length ? [{ node: el('p', { class: 'hint' }, 'Add artwork first.'), render() {} }] : form(bench)));
      body.append(held.node);
    };
    return { row, render };
  });
  element.append(el('h2', { class: 'title', id: 'card-title' }, 'Route card'), el('ol', { class: 'route' }, ...rows.map((one) => one.row)));
  const render = () => { for (const one of rows) one.render(); };
  render();

  /** Opens the form that holds the place, and goes to its field. @param {string} pointer */
  function go(pointer) {
    const index = artOf(pointer);
    if (index !== null && index < store.state.doc.artwork.length) store.dispatch({ type: 'select', index });
    store.dispatch({ type: 'open', value: operationOf(pointer), keep: true });
    requestAnimationFrame(() => {
      const field = element.querySelector(`[data-pointer="${CSS.escape(pointer)}"]`) ?? document.getElementById(`op-${operationOf(pointer)}-button`);
      for (let fold = field?.closest('details'); fold; fold = fold.parentElement?.closest('details') ?? null) fold.open = true;
      field?.scrollIntoView({ block: 'center' });
      /** @type {HTMLElement|null} */ (field)?.focus();
    });
  }
  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.moment !== before.moment && next.doc === before.doc) return;
    render();
    if (next.lit !== before.lit && next.lit?.where?.pointer) go(next.lit.where.pointer);
  });
  return { dispose() { stop(); element.replaceChildren(); } };
}

/** Operations whose fields the server refused. @param {any} state @param {string} id @returns {Line|null} */
function faulty(state, id) {
  const n = state.plan.problems.filter((/** @type {any} */ one) => operationOf(one.pointer) === id && one.pointer !== '').length;
  return n ? [`${n} to mend`, 'bad', state.plan.problems.find((/** @type {any} */ one) => operationOf(one.pointer) === id).allowed] : null;
}
