// @ts-check
/** A scan: a mesh from a file, its unit asked for, its axis found or given by hand. */
import { el } from '../../views/dom.js';
import { choiceField, facts, group, hint, numberField, rebuilt, tickField } from '../../views/forms/fields.js';
import { actField, createForm, fileField, on } from './form.js';

/** @param {HTMLElement} element @param {import('./ways.js').MeasuringBench} bench @returns {import('./ways.js').Mounted} */
function mount(element, bench) {
  const form = createForm(bench, 'form', { axis: 'auto', origin: [0, 0, 0], direction: [1, 0, 0] });
  const length = (/** @type {string} */ pointer, /** @type {string} */ label, optional = false) => numberField(form.bench, { pointer: on(pointer), label, optional: optional ? '0' : false });
  const angle = (/** @type {string} */ pointer, /** @type {string} */ label) => numberField(form.bench, { pointer: on(pointer), label, kind: 'angle', optional: '0', step: 0.5 });
  const part = (/** @type {string} */ pointer, /** @type {string} */ label) => numberField(form.bench, { pointer: on(pointer), label, kind: 'plain' });
  const lacks = () => (!form.at('/asset') ? 'Choose the file first.' : form.at('/unit') ? '' : 'Say what one unit of the file is: a file does not tell.');
  const found = el('div', { class: 'part' });
  const tellAxis = () => {
    const { axis } = bench.memory.answer ?? {};
    const words = (/** @type {number[]} */ list, /** @type {number} */ digits) => list.map((one) => one.toFixed(digits).replace('-', '\u2212')).join(', ');
    found.replaceChildren(...(axis ? [facts([['Axis through, mm', words(axis.origin_mm, 2)], ['along', words(axis.direction, 4)]])] : []));
  };
  const measure = actField('Measure', lacks, () => bench.run('The scan is being cut into sections …', (signal) => {
    const { axis, origin, direction, ...rest } = form.value;
    const body = Object.fromEntries(Object.entries(rest).filter(([, value]) => value !== undefined));
    return bench.ask('scan', { ...body, axis: axis === 'auto' ? 'auto' : { origin, direction } }, signal);
  }).then(tellAxis), 'main');
  form.fill(element, [
    fileField(bench, form, { pointer: '/asset', label: 'Scan', accept: '.stl,.obj,.ply,model/stl,model/obj' }),
    choiceField(form.bench, { legend: 'One unit of the file', choices: [['mm', '1 mm'], ['inch', '1 inch']], value: (state) => state.doc.unit ?? '', pick: (value) => form.put('/unit', value), pointer: on('/unit') }),
    choiceField(form.bench, { legend: 'Axis of rotation', choices: [['auto', 'find it'], ['given', 'as given']], value: (state) => state.doc.axis, pick: (value) => form.put('/axis', value), pointer: on('/axis') }),
    rebuilt(form.bench, (state) => state.doc.axis, (state) => (state.doc.axis === 'auto' ? [] : [
      group([length('/origin/0', 'Through x'), length('/origin/1', 'Through y'), length('/origin/2', 'Through z'), part('/direction/0', 'Along x'), part('/direction/1', 'Along y'), part('/direction/2', 'Along z')]),
      hint('A point of the axis and its direction, in the file’s own frame.')])),
    group([angle('/turn_y_deg', 'Turn about y'), angle('/turn_z_deg', 'Turn about z'), length('/shift_y_mm', 'Shift in y', true), length('/shift_z_mm', 'Shift in z', true), length('/shift_x_mm', 'Shift in x', true), angle('/theta_zero_deg', 'θ zero at')]),
    tickField(form.bench, { pointer: on('/flip'), label: 'x towards the other end' }),
    hint('Handles that move the scan after its axis has been found: turned about the middle of the axis, then shifted. What runs out shows in the sections.'),
    measure, { node: found, render: tellAxis },
  ]);
  form.render();
  return { dispose() { element.replaceChildren(); }, render: form.render, fault: (faults) => form.fault(faults.map((one) => ({ ...one, pointer: one.pointer.replace(/^\/axis\/(?=origin|direction)/, '/') }))) };
}

/** @type {import('./ways.js').Way} */
export const scan = { id: 'scan', label: 'Scan', note: 'A mesh of the blank as STL, OBJ or PLY. Undercuts and holes are told and filled.', mount };
