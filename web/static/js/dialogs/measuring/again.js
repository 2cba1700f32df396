// @ts-check
/** The same blank again, from a few points: how it sits now, or how its shape is held; or turned end for end, by two marks. */
import { angleWords, lengthWords } from '../../core/quantity.js';
import { el } from '../../views/dom.js';
import { choiceField, facts, group, hint, numberField, rebuilt, selectField } from '../../views/forms/fields.js';
import { actField, createForm, fileField, on } from './form.js';

const MARK = { first: { x_mm: 0, angle_deg: 0 }, second: { x_mm: 0, angle_deg: 0 } };

/** @param {HTMLElement} element @param {import('./ways.js').MeasuringBench} bench @returns {import('./ways.js').Mounted} */
function mount(element, bench) {
  const form = createForm(bench, 'form', { how: 'rechuck', unit: 'mm', tip_radius_mm: 1, second: '', marks: [MARK, { first: { x_mm: 0, angle_deg: 90 }, second: { x_mm: 0, angle_deg: 90 } }] });
  form.fill(element, [
    choiceField(form.bench, { legend: 'What was done', choices: [['rechuck', 'taken out and put back'], ['end', 'turned end for end'], ['correct', 'touched to correct its shape']], value: (state) => state.doc.how, pick: (value) => form.put('/how', value) }),
    rebuilt(form.bench, (state) => state.doc.how, (state) => (state.doc.how === 'end' ? turned(bench, form) : state.doc.how === 'correct' ? corrected(bench, form) : putBack(bench, form))),
  ]);
  form.render();
  return { dispose() { element.replaceChildren(); }, render: form.render, fault: form.fault };
}

/** @param {import('./ways.js').MeasuringBench} bench @param {import('./form.js').Form} form @returns {import('../../views/forms/fields.js').Field[]} */
function putBack(bench, form) {
  const { store, memory } = bench;
  const found = el('div', { class: 'part', role: 'status' });
  const move = el('button', { type: 'button', class: 'btn', onclick: () => {
    store.dispatch({ type: 'document', doc: memory.moved.job, label: 'move the job with the blank' });
    store.dispatch({ type: 'say', text: 'The job has moved with its blank.' });
    element().close();
  } }, 'Move the job with it');
  const element = () => /** @type {HTMLDialogElement} */ (found.closest('dialog'));
  const render = () => {
    const { moved } = memory;
    const { unit } = store.state;
    if (!moved) { found.replaceChildren(); return; }
    const about = (/** @type {number|undefined} */ sigma, /** @type {(value: number) => string} */ words) => (sigma === undefined ? '' : ` ± ${words(sigma)}`);
    const length = (/** @type {number} */ mm) => lengthWords(mm, unit);
    const rows = /** @type {[string, string][]} */ ([
      ['Shift in x', moved.shift_mm === null ? 'too straight to tell' : length(moved.shift_mm) + about(moved.shift_sigma_mm, length)],
      ['Turn', moved.turn_deg === null ? 'too round to tell' : angleWords(moved.turn_deg) + about(moved.turn_sigma_deg, angleWords)],
      ['Tilt', angleWords(moved.tilt_deg) + about(moved.tilt_sigma_deg, angleWords)]]);
    const others = (moved.turns_deg ?? []).slice(1);
    if (others.length) rows.push(['Turns that fit as well', others.map(angleWords).join(', ')]);
    found.replaceChildren(facts(rows), ...(moved.job ? [move, el('p', { class: 'hint' }, 'Every piece of art goes with the skin. It can be undone.')] : []));
  };
  const measure = actField('Find how it sits', () => (form.at('/log') ? '' : 'Choose the log first.'), async () => {
    const got = await bench.run('The stored skin is being turned and shifted until it fits …', (signal) => bench.ask('rechuck', { ...touched(bench, form), job: store.state.doc, turn_near_deg: form.at('/turn_near_deg') }, signal));
    if (!got) return;
    memory.moved = got;
    render();
  }, 'main');
  return [
    hint('Touch some forty points spread over the blank, then give their log: the job’s own skin is fitted to them.'),
    ...touches(bench, form),
    numberField(form.bench, { pointer: on('/turn_near_deg'), label: 'Turned by about', kind: 'angle', optional: 'as the skin shows' }),
    measure, { node: found, render },
  ];
}

/** The log of some touches, and what it takes to read it. @param {import('./ways.js').MeasuringBench} bench @param {import('./form.js').Form} form @returns {import('../../views/forms/fields.js').Field[]} */
function touches(bench, form) {
  return [
    fileField(bench, form, { pointer: '/log', label: 'Log of the controller', accept: '.txt,.log,.csv,text/plain,text/csv' }),
    numberField(form.bench, { pointer: on('/tip_radius_mm'), label: 'Radius of the ball', least: 0, step: 0.1 }),
    choiceField(form.bench, { legend: 'Lengths in the log', choices: [['mm', 'mm'], ['inch', 'inch']], value: (state) => state.doc.unit, pick: (value) => form.put('/unit', value) }),
    numberField(form.bench, { pointer: on('/zero_r_mm'), label: 'Radius where the tool’s zero was set', optional: 'as the blank says', least: 0.1 }),
  ];
}

/** @param {import('./ways.js').MeasuringBench} bench @param {import('./form.js').Form} form */
function touched({ store }, form) {
  const { log, tip_radius_mm, unit, zero_r_mm } = form.value;
  return { blank: store.state.doc.blank, machine: store.state.doc.machine, log, tip_radius_mm, unit, zero_r_mm };
}

/** @param {import('./ways.js').MeasuringBench} bench @param {import('./form.js').Form} form @returns {import('../../views/forms/fields.js').Field[]} */
function corrected(bench, form) {
  return [
    hint('The job’s blank gives the shape, by callipers for instance; six touches or more tell how it is held: its tilt and runout, and more only where the touches ask for it.'),
    ...touches(bench, form),
    actField('Correct the shape', () => (form.at('/log') ? '' : 'Choose the log first.'), () => bench.run('The shape is being laid through the touches …', (signal) => bench.ask('correct', touched(bench, form), signal)), 'main'),
  ];
}

/** @param {import('./ways.js').MeasuringBench} bench @param {import('./form.js').Form} form @returns {import('../../views/forms/fields.js').Field[]} */
function turned(bench, form) {
  const second = () => bench.measured.at(Number(form.at('/second') || bench.measured.length) - 1)?.blank;
  const mark = (/** @type {number} */ k) => group(/** @type {['first'|'second', string][]} */ ([['first', 'before'], ['second', 'after']]).flatMap(([side, when]) => [
    numberField(form.bench, { pointer: on(`/marks/${k}/${side}/x_mm`), label: `Mark ${k + 1} ${when}, x` }),
    numberField(form.bench, { pointer: on(`/marks/${k}/${side}/angle_deg`), label: `Mark ${k + 1} ${when}, θ`, kind: 'angle' })]));
  return [
    hint('Measured before turning: the job’s blank. Measured after: a skin that was measured here since the page was opened. Two marks on the skin, seen from both sides, tell how they lie to one another.'),
    selectField(form.bench, { label: 'Measured after turning', choices: () => (bench.measured.length ? bench.measured.map(({ label }, k) => [String(k + 1), label]) : [['', 'nothing measured yet']]), value: (state) => state.doc.second || String(bench.measured.length || ''), pick: (value) => form.put('/second', value) }),
    mark(0), mark(1),
    actField('Join the two', () => (second() ? '' : 'Measure the turned blank first, by any of the other ways.'), () => bench.run('The two sides are being joined …', (signal) => bench.ask('end-for-end', { first: bench.store.state.doc.blank, second: second(), marks: form.at('/marks') }, signal)), 'main'),
  ];
}

/** @type {import('./ways.js').Way} */
export const again = { id: 'again', label: 'Same blank again', note: 'A blank that was measured before and sits differently now.', mount };
