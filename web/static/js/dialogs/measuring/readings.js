// @ts-check
/** A table of readings: any grid in CSV, its columns named, its angles in degrees or radians. */
import { choiceField, group, hint, textField } from '../../views/forms/fields.js';
import { actField, createForm, fileField, on } from './form.js';

const USUAL = { x: 'x_mm', angle: 'angle_deg', radius: 'radius_mm' };

/** @param {HTMLElement} element @param {import('./ways.js').MeasuringBench} bench @returns {import('./ways.js').Mounted} */
function mount(element, bench) {
  const form = createForm(bench, 'form', { columns: {} });
  const column = (/** @type {'x'|'angle'|'radius'} */ name, /** @type {string} */ label) => textField(form.bench, { pointer: on(`/columns/${name}`), label, hint: USUAL[name], wide: false, most: 80 });
  const lacks = () => (!form.at('/asset') ? 'Choose the file first.' : form.at('/angle_unit') ? '' : 'Say in what the angles are.');
  const measure = actField('Measure', lacks, () => bench.run('A surface is being laid through the readings …', (signal) => {
    const { asset, angle_unit, columns } = form.value;
    return bench.ask('grid', { asset, angle_unit, columns: { ...USUAL, ...columns } }, signal);
  }), 'main');
  form.fill(element, [
    fileField(bench, form, { pointer: '/asset', label: 'Table of readings', accept: '.csv,.txt,text/csv,text/plain' }),
    choiceField(form.bench, { legend: 'Angles in', choices: [['degrees', 'degrees'], ['radians', 'radians']], value: (state) => state.doc.angle_unit ?? '', pick: (value) => form.put('/angle_unit', value), pointer: on('/angle_unit') }),
    group([column('x', 'Column of x'), column('angle', 'Column of the angle'), column('radius', 'Column of the radius')]),
    hint('Lengths are mm. Rows may stand in any order and cells may be missing: a smooth surface fills them and says how sure it is.'),
    measure,
  ]);
  form.render();
  return { dispose() { element.replaceChildren(); }, render: form.render, fault: form.fault };
}

/** @type {import('./ways.js').Way} */
export const readings = { id: 'grid', label: 'Table of readings', note: 'Stations, angles and radii from any other instrument, as CSV.', mount };
