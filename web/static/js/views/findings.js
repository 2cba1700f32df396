// @ts-check
/** What the plan found, each a step away from its place; warnings are ticked before the engraving is given out. */
import { el } from './dom.js';
import { asFindings, gateOf, keyOf } from '../core/findings.js';

const WORDS = { error: 'Error', warning: 'Check', note: 'Note' };
const TONES = { error: 'bad', warning: 'warn', note: 'note' };

/** @param {any} state */
export function findingsOf({ plan }) {
  if (plan.state === 'refused') return plan.problems.length ? asFindings(plan.problems) : [{ severity: 'error', code: plan.state, message: plan.detail || 'The plan could not be made.' }];
  if (plan.state === 'unreached') return [{ severity: 'error', code: 'server', message: plan.detail }];
  return plan.report?.findings ?? [];
}

/** @param {any} where */
const hasPlace = (where) => where && (where.pointer !== undefined || where.x_mm !== undefined || where.stroke !== undefined || where.line !== undefined);

/** @param {HTMLElement} element @param {any} store */
export function mountFindings(element, store) {
  const count = el('span', { class: 'count' });
  const list = el('ul', { class: 'list', tabindex: '0', 'aria-label': 'Findings' });
  element.append(el('h2', { class: 'title', id: 'findings-title' }, 'Findings', count), list);
  /** @type {string} */
  let held = '';

  /** @param {any} finding */
  function row(finding) {
    const button = hasPlace(finding.where)
      ? el('button', { type: 'button', class: 'link', 'aria-label': `show: ${finding.message}`, onclick: () => store.dispatch({ type: 'light', finding: store.state.lit && keyOf(store.state.lit) === keyOf(finding) ? null : finding }) }, 'show') : null;
    if (button) button.setAttribute('aria-pressed', String(Boolean(store.state.lit) && keyOf(store.state.lit) === keyOf(finding)));
    const text = el('span', { class: 'text' }, finding.message, finding.advice ? el('span', { class: 'advice' }, ` ${finding.advice}`) : null);
    const tick = finding.severity === 'warning' ? acknowledge(finding) : null;
    return el('li', {}, el('span', { class: `word ${TONES[/** @type {'error'} */ (finding.severity)]}` }, WORDS[/** @type {'error'} */ (finding.severity)]), text, el('span', { class: 'acts' }, tick, button));
  }

  /** @param {any} finding */
  function acknowledge(finding) {
    const key = keyOf(finding);
    const input = el('input', { type: 'checkbox', 'aria-label': `acknowledge: ${finding.message}`, onchange: () => store.dispatch({ type: 'tick', ticks: input.checked ? [...store.state.ticks, key] : store.state.ticks.filter((/** @type {string} */ one) => one !== key) }) });
    input.checked = store.state.ticks.includes(key);
    return el('label', { class: 'seen' }, input, el('span', {}, 'seen'));
  }

  const render = () => {
    const { state } = store;
    const findings = findingsOf(state);
    const key = JSON.stringify([findings, state.ticks, state.lit && keyOf(state.lit), Boolean(state.plan.report), state.doc.artwork.length > 0]);
    if (key === held) return;
    held = key;
    const focused = list.contains(document.activeElement) ? document.activeElement?.getAttribute('aria-label') : null;
    const gate = gateOf(findings, state.ticks);
    count.textContent = [gate.errors ? `${gate.errors} to mend` : '', gate.open ? `${gate.open} to acknowledge` : ''].filter(Boolean).join(', ');
    count.className = `count ${gate.errors ? 'bad' : 'warn'}`;
    const empty = state.plan.report ? 'The proof found nothing against this program.' : 'What the plan finds will stand here.';
    list.replaceChildren(...(findings.length ? findings.map(row) : [el('li', { class: 'none' }, el('span', { class: 'text' }, state.plan.report && !state.doc.artwork.length ? 'Add artwork to the route card to begin.' : empty))]));
    if (focused) /** @type {HTMLElement|null} */ (list.querySelector(`[aria-label="${CSS.escape(focused)}"]`))?.focus();
  };
  render();
  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => { if (next.plan !== before.plan || next.ticks !== before.ticks || next.lit !== before.lit || next.doc !== before.doc) render(); });
  return { dispose() { stop(); element.replaceChildren(); } };
}
