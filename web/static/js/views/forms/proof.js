// @ts-check
/** What the proof found, as figures, and which defaults the plan took. */
import { el } from '../dom.js';
import { facts, written } from './fields.js';
import { angleWords, lengthWords, volumeWords } from '../../core/quantity.js';
import { formatClock, formatCount } from '../../core/units.js';

/** @param {number} share */
export const percent = (share) => `${(share * 100).toFixed(share > 0.9995 ? 0 : 1)} %`;

/** @param {{ mean: number, high: number }} share */
const upTo = ({ mean, high }) => `${percent(mean)}, up to ${percent(high)}`;

/** @param {any} report @param {'mm'|'inch'} unit @returns {[string, string][]} */
export function figures(report, unit) {
  /** @type {[string, string][]} */
  const rows = [];
  const mm = (/** @type {number} */ value) => lengthWords(value, unit);
  const way = (/** @type {number} */ value) => (unit === 'mm' && value >= 1000 ? `${(value / 1000).toFixed(2)} m` : mm(value));
  const pair = (/** @type {number[]} */ [low, high], /** @type {(v: number) => string} */ words) => `${words(low)} to ${words(high)}`;
  if (report.fidelity) rows.push(['Of the art, opened', percent(report.fidelity.art_cut)], ['to half its depth', percent(report.fidelity.art_half)], ['Of the cut, on the art', percent(report.fidelity.cut_on_art)]);
  if (typeof report.fidelity?.tone === 'number') rows.push(['Light and dark agree', report.fidelity.tone.toFixed(3)]);
  if (report.depth_mm) rows.push(['Carved depth', pair([report.depth_mm.least, report.depth_mm.greatest], mm)]);
  const { made } = report;
  if (made?.line_mm) rows.push(['Lines, the finest', mm(made.line_mm.least)], ['half are wider than', mm(made.line_mm.median)]);
  if (typeof made?.wall_left_mm === 'number') rows.push(['Least wall left', mm(made.wall_left_mm)]);
  if (made) rows.push(['Material taken off', volumeWords(made.removed_mm3, unit)]);
  const { sure } = report;
  if (sure) rows.push(['May stay unmarked', upTo(sure.unmarked)], ['may come out too deep', upTo(sure.too_deep)]);
  if (report.scale?.least) rows.push(['Scale on the skin', `${report.scale.least.toFixed(3)} to ${report.scale.greatest.toFixed(3)}`]);
  rows.push(['Strokes', formatCount(report.strokes ?? 0)], ['Cutting way', way(report.cut_mm ?? 0)], ['Travelling way', way(report.travel_mm ?? 0)]);
  const time = report.time_s;
  if (time) rows.push(['Time, in all', formatClock(time.total)], ['cutting', formatClock(time.cutting)], ['travelling', formatClock(time.travel)], ['plunging', formatClock(time.plunge)], ['waiting for the spindle', formatClock(time.dwell)]);
  if (report.extent) rows.push(['Program x', pair(report.extent.x_mm, mm)], ['Program angle', pair(report.extent.angle_deg, angleWords)], ['Program radius', pair(report.extent.radius_mm, mm)]);
  return rows;
}

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function proofForm(bench) {
  let open = false;
  return [
    written(bench, ({ plan }) => (plan.id && plan.report?.made ? [difference(bench.tools.api.differenceUrl(plan.id))] : [])),
    written(bench, ({ plan, unit }) => (plan.report ? [facts(figures(plan.report, unit))] : [el('p', { class: 'hint' }, 'The proof reads the finished program back and carves the blank with it. There is nothing to prove yet.')])),
    written(bench, ({ plan, doc, unit }) => {
      const told = plan.of === doc ? plan.report?.sure?.advice : null;
      const asked = Math.max(0, ...doc.artwork.map((/** @type {any} */ item) => item.depth_mm ?? 0));
      if (!told || told.depth_mm === asked) return [];
      if (!told.depth_mm) return [el('p', { class: 'hint' }, `To mark all of it: ${told.why}.`)];
      const share = told.depth_mm / asked;
      const tidy = share > 1 ? Math.ceil : Math.floor;
      const deep = (/** @type {any} */ item) => ({ ...item, depth_mm: tidy(Math.round(item.depth_mm * share * 1e6) / 1e3) / 1e3, ...(share > 1 && { step_mm: item.step_mm ?? item.depth_mm }) });
      const press = () => bench.store.dispatch({ type: 'document', doc: { ...doc, artwork: doc.artwork.map(deep) }, label: share > 1 ? 'cut deeper' : 'cut less deep' });
      const words = `${lengthWords(told.depth_mm, unit)} deep, in ${told.passes} ${told.passes === 1 ? 'pass' : 'passes'}, would most likely mark all of it${share > 1 ? '' : ' and leave enough of the wall'}.`;
      return [el('p', { class: 'hint' }, words), el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn small', onclick: press }, 'Cut that deep'))];
    }),
    written(bench, ({ plan }) => {
      const taken = plan.report?.defaults ?? [];
      if (!taken.length) return [];
      const fold = el('details', { class: 'fold', ontoggle: () => { open = fold.open; } }, el('summary', {}, `${taken.length} defaults taken`), el('div', { class: 'part' }, facts(taken.map((/** @type {any} */ one) => [one.pointer.slice(1).replaceAll('/', ' · '), value(one.value)]))));
      fold.open = open;
      return [fold];
    }),
  ];
}

/** Where the carving is what was asked and where not. @param {string} url */
const difference = (url) => el('figure', { class: 'difference' },
  el('a', { href: url, target: '_blank', rel: 'noopener' }, el('img', { src: url, alt: 'The carving beside what was asked, unwrapped' })),
  el('figcaption', { class: 'hint' }, key('made'), ' art opened', key('left'), ' art left uncut', key('beside'), ' cut beside the art'));

/** @param {'made'|'left'|'beside'} name */
const key = (name) => el('span', { class: `swatch ${name}`, 'aria-hidden': 'true' });

/** @param {any} given */
const value = (given) => (given === null ? 'none' : typeof given === 'object' ? JSON.stringify(given).replaceAll('"', '') : String(given));
