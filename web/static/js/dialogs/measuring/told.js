// @ts-check
/** What a measurement has to tell: its findings, each a step away from its place, and how it came about. */
import { sentences } from '../../core/measured/words.js';
import { formatClock } from '../../core/units.js';
import { el } from '../../views/dom.js';

const WORDS = { error: 'Error', warning: 'Check', note: 'Note' };
const TONES = { error: 'bad', warning: 'warn', note: 'note' };
const ORDER = ['error', 'warning', 'note'];

/** @param {any} where */
const hasPlace = (where) => typeof where?.x_mm === 'number' || typeof where?.angle_deg === 'number';

/** @param {any[]} findings @param {(finding: any) => Node|null} act what can be done about one @returns {Node[]} the worst first */
const rowsOf = (findings, act) => [...findings].sort((a, b) => ORDER.indexOf(a.severity) - ORDER.indexOf(b.severity)).map((finding) => el('li', {},
  el('span', { class: `word ${TONES[/** @type {'error'} */ (finding.severity)]}` }, WORDS[/** @type {'error'} */ (finding.severity)]),
  el('span', { class: 'text' }, sentences(finding.message), finding.advice ? el('span', { class: 'advice' }, ` ${sentences(finding.advice)}`) : null),
  el('span', { class: 'acts' }, act(finding))));

/** A program that was handed over: its name, how long it takes, and what was found. @param {import('./ways.js').Written} written @returns {Node[]} */
export const writtenNode = ({ name, time_s, findings }) => [
  el('p', {}, `${name} is among the downloads: about ${formatClock(time_s)} min to run.`),
  el('ul', { class: 'list', 'aria-label': `Findings of ${name}` }, ...rowsOf(findings, () => null))];

/** @param {any[]} findings @param {boolean} measured whether there is an answer at all @param {(where: any) => void} go @returns {Node[]} */
export function foundNode(findings, measured, go) {
  const rows = rowsOf(findings, (finding) => (hasPlace(finding.where) ? el('button', { type: 'button', class: 'link', 'aria-label': `show: ${finding.message}`, onclick: () => go(finding.where) }, 'show') : null));
  const empty = measured ? 'Nothing was found against this measurement.' : 'What the measurement finds will stand here.';
  return [el('h3', { class: 'title' }, 'Findings'), el('ul', { class: 'list', 'aria-label': 'Findings of the measurement' }, ...(rows.length ? rows : [el('li', { class: 'none' }, el('span', { class: 'text' }, empty))]))];
}

/** @param {[string, string][]} pairs @returns {Node[]} nothing where nothing is told */
export function howNode(pairs) {
  if (!pairs.length) return [];
  return [el('h3', { class: 'title' }, 'How it was measured'), el('dl', { class: 'facts how' }, ...pairs.map(([term, words]) => el('div', {}, el('dt', {}, term), el('dd', {}, words))))];
}
