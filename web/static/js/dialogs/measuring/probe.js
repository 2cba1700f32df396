// @ts-check
/** The touch probe: a program that touches the skin at chosen stations and angles, then what the controller logged. */
import { stationsBetween } from '../../core/measured/taking.js';
import { el, handOver } from '../../views/dom.js';
import { choiceField, group, hint, numberField, tickField } from '../../views/forms/fields.js';
import { actField, createForm, fileField, on } from './form.js';
import { writtenNode } from './told.js';

const MOST_POINTS = 4000;

/** @param {any} state @returns {[number, number]} where the blank begins and ends, as far as it is known */
function reachOf({ view, doc }) {
  const x = view?.skin.x;
  if (x) return [Math.round(x[0]), Math.round(x[x.length - 1])];
  const stations = doc.blank.stations ?? [];
  return [stations[0]?.x_mm ?? 0, stations.at(-1)?.x_mm ?? doc.blank.length_mm ?? 90];
}

/** @param {HTMLElement} element @param {import('./ways.js').MeasuringBench} bench @returns {import('./ways.js').Mounted} */
function mount(element, bench) {
  const { store } = bench;
  const [low, high] = reachOf(store.state);
  const form = createForm(bench, 'form', { from_mm: low + 2, to_mm: high - 2, step_mm: Math.max(1, Math.round((high - low) / 19)), angles: 24, tip_radius_mm: 1, feed_mm_min: 60, search_mm: 3, fragile: false, unit: 'mm' });
  const stations = () => stationsBetween(form.at('/from_mm'), form.at('/to_mm'), form.at('/step_mm'));
  const lacksPlan = () => {
    const points = stations().length * (form.at('/angles') ?? 0);
    if (!points) return 'Say from where to where, and in what steps.';
    return points > MOST_POINTS ? `That would be ${points} points; ${MOST_POINTS} are the most.` : '';
  };
  /** What the program was written with, and the log is read by. */
  const places = () => ({ blank: store.state.doc.blank, machine: store.state.doc.machine, stations: stations(), angles: form.at('/angles'), tip_radius_mm: form.at('/tip_radius_mm'), search_mm: form.at('/search_mm') });
  const program = actField('Write the program', lacksPlan, () => bench.run('The program is being written …', async (signal) => {
    const { feed_mm_min, fragile = false } = form.value;
    const got = await bench.file('probe-program', { ...places(), feed_mm_min, fragile }, signal);
    handOver(got);
    written.replaceChildren(...writtenNode(got));
  }));
  const written = el('div', { class: 'part', role: 'status' });
  const points = el('p', { class: 'hint' });
  const measure = actField('Read the log', () => lacksPlan() || (form.at('/log') ? '' : 'Choose the log first.'), () => bench.run('The log is being read …', (signal) => bench.ask('probe-log', { ...places(), log: form.at('/log'), unit: form.at('/unit'), zero_r_mm: form.at('/zero_r_mm') }, signal)), 'main');
  const length = (/** @type {string} */ pointer, /** @type {string} */ label, least = -1e4, step = 1) => numberField(form.bench, { pointer: on(pointer), label, least, step });
  form.fill(element, [
    group([length('/from_mm', 'From x'), length('/to_mm', 'To x'), length('/step_mm', 'Every', 0.1), numberField(form.bench, { pointer: on('/angles'), label: 'Angles a turn', kind: 'whole', least: 3 }),
      length('/tip_radius_mm', 'Radius of the ball', 0, 0.1), length('/search_mm', 'Search distance', 0.1), numberField(form.bench, { pointer: on('/feed_mm_min'), label: 'Feed', kind: 'rate', least: 1 })]),
    tickField(form.bench, { pointer: on('/fragile'), label: 'The blank is fragile' }),
    { node: points, render() { points.textContent = `${stations().length} stations × ${form.at('/angles') ?? 0} angles: ${stations().length * (form.at('/angles') ?? 0)} points. The job’s blank tells where the skin is about, its keep-outs where not to go.`; } },
    program, { node: written, render() {} },
    fileField(bench, form, { pointer: '/log', label: 'Log of the controller', accept: '.txt,.log,.csv,.nc,.ngc,text/plain,text/csv' }),
    choiceField(form.bench, { legend: 'Lengths in the log', choices: [['mm', 'mm'], ['inch', 'inch']], value: (state) => state.doc.unit, pick: (value) => form.put('/unit', value) }),
    numberField(form.bench, { pointer: on('/zero_r_mm'), label: 'Radius where the tool’s zero was set', optional: 'as the blank says', least: 0.1 }),
    hint('The log holds a position for each point, in the order of the program. Stations, angles and ball are those above. The radius matters only where the machine is zeroed on the skin.'),
    measure,
  ]);
  form.render();
  return { dispose() { element.replaceChildren(); }, render: form.render, fault: form.fault };
}

/** @type {import('./ways.js').Way} */
export const probe = { id: 'probe', label: 'Probe', note: 'A touch probe in the spindle: a program to run, then the log that the controller wrote.', mount };
