// @ts-check
/** The measuring bench: the ways of measuring, the plots of what they gave, what is to be told, and taking the skin. */
import { Refusal, patiently } from '../../api.js';
import { takenBlank } from '../../core/measured/taking.js';
import { fineWords } from '../../core/measured/words.js';
import { el } from '../../views/dom.js';
import { choiceField } from '../../views/forms/fields.js';
import { mountPlots } from '../../views/measured/plots.js';
import { foundNode, howNode } from './told.js';
import { WAYS } from './ways.js';

/** @param {any} store @param {any} tools @param {readonly import('./ways.js').Way[]} [ways] @returns {HTMLDialogElement} shown */
export function openMeasuring(store, tools, ways = WAYS) {
  const { measuring } = tools;
  const shared = measuring.memory('dialog');
  let way = ways.find((one) => one.id === shared.way) ?? ways[0];
  /** @type {import('./ways.js').Answer|null} */
  let answer = null;
  let errand = new AbortController();
  /** @type {import('./ways.js').Mounted|null} */
  let mounted = null;

  const close = () => box.close();
  const said = el('p', { class: 'told', role: 'status' });
  const sure = el('p', { class: 'sure' });
  const form = el('div', { class: 'form' });
  const held = el('section', { class: 'measure-plots', 'aria-label': 'What was measured' });
  const [found, how] = [el('div', { class: 'part' }), el('div', { class: 'part' })];
  const take = el('button', { type: 'button', class: 'btn main', 'aria-disabled': 'true', onclick: use }, 'Use this skin');
  const units = choiceField({ store, tools }, { legend: 'Units', choices: [['mm', 'mm'], ['inch', 'inch']], value: (state) => state.unit, pick: (value) => store.dispatch({ type: 'unit', value }) });
  const kinds = choiceField({ store, tools }, { legend: 'Way of measuring', choices: ways.map((one) => [one.id, one.label]), value: () => way.id, pick: (id) => choose(/** @type {any} */ (ways.find((one) => one.id === id))) });
  const box = el('dialog', { class: 'measure', 'aria-labelledby': 'measure-title' },
    el('header', { class: 'measure-head' }, el('h2', { id: 'measure-title' }, 'Measure the blank'), el('span', { class: 'gap' }), units.node, el('button', { type: 'button', class: 'drop', 'aria-label': 'close', onclick: close }, '×')),
    el('div', { class: 'measure-ways' }, kinds.node),
    el('section', { class: 'measure-form', 'aria-label': 'The way of measuring', tabindex: '-1' }, form, said),
    held,
    el('footer', { class: 'measure-foot' }, el('div', { class: 'measure-told', tabindex: '0', role: 'group', 'aria-label': 'Findings and how it was measured' }, found, how), el('div', { class: 'measure-take' }, sure, take)));
  const plots = mountPlots(held, store);

  function use() {
    if (!answer || take.getAttribute('aria-disabled') === 'true') return;
    store.dispatch({ type: 'put', pointer: '/blank', value: takenBlank(answer.blank, store.state.doc.blank), label: `blank by ${way.label.toLowerCase()}` });
    store.dispatch({ type: 'say', text: 'The measured skin is the blank now.' });
    box.close();
  }

  /** @param {import('./ways.js').Answer|null} next */
  function show(next) {
    answer = next;
    measuring.memory(way.id).answer = next;
    plots.show(next?.skin ? next : null);
    const findings = next?.findings ?? [];
    found.replaceChildren(...foundNode(findings, Boolean(next), (where) => plots.go(where)));
    how.replaceChildren(...howNode(next?.how ?? []));
    const barred = !next?.blank || findings.some((one) => one.severity === 'error');
    take.setAttribute('aria-disabled', String(barred));
    tellSure();
  }
  function tellSure() {
    const errors = (answer?.findings ?? []).filter((one) => one.severity === 'error').length;
    sure.textContent = !answer?.blank ? '' : errors ? `${errors} to mend before it can be used` : `Known to ± ${fineWords(answer.sigma_mm, store.state.unit)} (one standard deviation)`;
  }
  /** @param {string} words @param {string} [tone] */
  function tell(words, tone = '') {
    said.textContent = words;
    said.className = `told ${tone}`;
  }

  /** @param {string} words @param {(signal: AbortSignal) => Promise<any>} work @returns {Promise<any>} */
  async function run(words, work) {
    errand.abort();
    errand = new AbortController();
    const { signal } = errand;
    tell(words);
    mounted?.fault?.([]);
    form.setAttribute('aria-busy', 'true');
    try {
      const got = await patiently(() => work(signal), signal);
      if (signal.aborted) return null;
      if (got?.skin) {
        show(got);
        measuring.measured.push({ label: `${way.label} ${measuring.measured.length + 1}`, blank: got.blank });
      }
      tell(got?.skin ? 'Measured.' : '');
      return got;
    } catch (error) {
      if (signal.aborted) return null;
      const faults = error instanceof Refusal ? error.errors : [];
      tell([error instanceof Refusal ? error.message : 'The server does not answer. Is it still running?', ...faults.map((one) => one.allowed)].filter((one, k, list) => list.indexOf(one) === k).join(' '), 'bad');
      mounted?.fault?.(faults);
      return null;
    } finally {
      if (!signal.aborted) form.removeAttribute('aria-busy');
    }
  }

  /** @param {import('./ways.js').Way} next */
  function choose(next) {
    errand.abort();
    form.removeAttribute('aria-busy');
    mounted?.dispose();
    way = next;
    shared.way = way.id;
    tell('');
    form.replaceChildren(el('p', { class: 'hint' }, way.note));
    const inner = el('div', { class: 'part way' });
    form.append(inner);
    const memory = measuring.memory(way.id);
    const { ask, file, measured } = measuring;
    mounted = way.mount(inner, { store, tools, memory, measured, ask, file, upload: tools.api.upload, run, show, tell });
    show(memory.answer ?? null);
    kinds.render();
  }

  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.unit !== before.unit || next.ground !== before.ground) { plots.render(); units.render(); tellSure(); }
    if (next.unit !== before.unit || next.doc !== before.doc || next.library !== before.library) mounted?.render?.();
  });
  box.addEventListener('close', () => {
    errand.abort();
    stop();
    mounted?.dispose();
    plots.dispose();
    box.remove();
  });
  document.body.append(box);
  box.showModal();
  choose(way);
  return box;
}
