// @ts-check
/** The tool and its feeds, and the machine that carries it. */
import { choiceField, folded, group, hint, numberField, rebuilt, selectField, textField, tickField } from './fields.js';
import { ofArt } from './artwork.js';
import { BUILT_IN, freshId, oneForAll, toolOf, withTool } from '../../core/tools.js';

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
export function toolForm(bench) {
  const { store } = bench;
  const own = (/** @type {any} */ change, /** @type {string} */ label) => {
    const { doc, selected } = store.state;
    store.dispatch({ type: 'document', doc: withTool(doc, selected, { ...toolOf(store.state), ...change }), label });
  };
  const share = (/** @type {string} */ who) => {
    const { doc, selected } = store.state;
    const tool = toolOf(store.state);
    const given = who === 'all' ? tool : { ...tool, id: freshId(doc, tool.id) };
    store.dispatch({ type: 'document', doc: withTool(doc, selected, given, who === 'all'), label: who === 'all' ? 'one tool for every piece' : 'a tool of its own' });
  };
  const at = (/** @type {string} */ path) => (/** @type {any} */ state) => ofArt(state, path);
  const placeOf = (/** @type {any} */ state) => (state.doc.tools ?? []).findIndex((/** @type {any} */ one) => one.id === toolOf(state).id);
  const ofTool = (/** @type {string} */ path) => (/** @type {any} */ state) => `/tools/${placeOf(state)}/${path}`;
  return [
    rebuilt(bench, (state) => String(state.doc.artwork.length > 1), (state) => (state.doc.artwork.length > 1 ? [choiceField(bench, {
      legend: 'This tool cuts', choices: [['all', 'every piece'], ['one', 'this piece alone']], value: (now) => (oneForAll(now.doc) ? 'all' : 'one'), pick: share,
    })] : [])),
    selectField(bench, {
      label: 'Tool', value: (state) => toolOf(state).id,
      choices: (state) => {
        const listed = [toolOf(state), BUILT_IN, ...(state.doc.tools ?? []), ...state.library.tools];
        return [...new Map(listed.map((one) => [one.id, /** @type {[string, string]} */ ([one.id, one.name || toolWords(one)])])).values()];
      },
      pick: (id) => own(id === BUILT_IN.id ? BUILT_IN : [...(store.state.doc.tools ?? []), ...store.state.library.tools].find((/** @type {any} */ one) => one.id === id) ?? {}, 'change the tool'),
    }),
    choiceField(bench, { legend: 'Form of its end', choices: [['cone', 'cone'], ['ball', 'ball'], ['flat', 'flat']], value: (state) => toolOf(state).form, pick: (form) => own({ form, id: `own-${form}` }, 'change the form') }),
    rebuilt(bench, (state) => `${toolOf(state).form}/${placeOf(state)}`, (state) => (placeOf(state) >= 0 ? [group([
      numberField(bench, { pointer: ofTool('diameter_mm'), label: 'Diameter', step: 0.1, least: 0.05, optional: true }),
      ...(toolOf(state).form === 'cone' ? [
        numberField(bench, { pointer: ofTool('tip_mm'), label: 'Flat of the tip', step: 0.05, least: 0, optional: true }),
        numberField(bench, { pointer: ofTool('angle_deg'), label: 'Included angle', kind: 'angle', step: 1, least: 1.1, optional: true })] : []),
      numberField(bench, { pointer: ofTool('stick_out_mm'), label: 'Stick-out', step: 0.5, least: 0.1, optional: 'not known' }),
      numberField(bench, { pointer: ofTool('flute_mm'), label: 'Cutting length', step: 0.5, least: 0.1, optional: 'not known' }),
      numberField(bench, { pointer: ofTool('shank_mm'), label: 'Shank ⌀', step: 0.1, least: 0.1, optional: 'not known' }),
      numberField(bench, { pointer: ofTool('tilt_max_deg'), label: 'Steepest skin', kind: 'angle', step: 1, least: 1, optional: 'by its form' }),
      numberField(bench, { pointer: ofTool('runout_mm'), label: 'Run-out', step: 0.01, least: 0, optional: 'none' }),
      numberField(bench, { pointer: ofTool('rpm_max'), label: 'Speed limit', kind: 'plain', unit: 'rev/min', step: 500, least: 1, optional: 'not known' }),
    ])] : [{ node: ownButton(() => own({ id: 'own-cone' }, 'measure the tool')), render() {} }])),
    group([
      numberField(bench, { pointer: at('feed_mm_min'), label: 'Feed', kind: 'rate', least: 1, optional: true }),
      numberField(bench, { pointer: at('plunge_mm_min'), label: 'Plunge', kind: 'rate', least: 1, optional: 'feed ÷ 3' }),
      numberField(bench, { pointer: at('rpm'), label: 'Spindle', kind: 'plain', unit: 'rev/min', step: 500, least: 0, optional: true }),
    ]),
    ...machineFields(bench),
  ];
}

/** @param {() => void} act */
function ownButton(act) {
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'btn small';
  button.textContent = 'Give its measures';
  button.addEventListener('click', act);
  const row = document.createElement('div');
  row.className = 'row';
  row.append(button);
  return row;
}

/** @param {any} tool */
export const toolWords = (tool) => (tool.form === 'cone' ? `cone ${tool.angle_deg}°, ${tool.tip_mm} tip` : `${tool.form} ⌀ ${tool.diameter_mm}`);

/** @param {any} state */
const machineOf = (state) => (typeof state.doc.machine === 'string' ? { profile: state.doc.machine } : state.doc.machine ?? {});

/** @param {import('./fields.js').Bench} bench @returns {import('./fields.js').Field[]} */
function machineFields(bench) {
  const { store } = bench;
  const at = (/** @type {string} */ path) => () => `/machine/${path}`;
  const put = (/** @type {any} */ change, /** @type {string} */ label) => {
    const machine = Object.fromEntries(Object.entries({ ...machineOf(store.state), ...change }).filter(([, value]) => value !== undefined));
    store.dispatch({ type: 'put', pointer: '/machine', value: Object.keys(machine).length ? machine : undefined, label });
  };
  const choice = (/** @type {string} */ key, /** @type {string} */ legend, /** @type {[string, string][]} */ choices) => choiceField(bench, { legend, choices, value: (state) => machineOf(state)[key] ?? choices[0][0], pick: (value) => put({ [key]: value === choices[0][0] ? undefined : value }, `change ${legend.toLowerCase()}`) });
  const linear = (/** @type {string} */ axis, /** @type {string} */ title) => folded(title, [group([
    textField(bench, { pointer: at(`axes/${axis}/letter`), label: 'Letter', hint: axis === 'axial' ? 'X' : 'Z', most: 1, wide: false }),
    numberField(bench, { pointer: at(`axes/${axis}/rapid_mm_min`), label: 'Rapid', kind: 'rate', step: 100, optional: true }),
    numberField(bench, { pointer: at(`axes/${axis}/min_mm`), label: 'Least position', optional: 'no limit' }),
    numberField(bench, { pointer: at(`axes/${axis}/max_mm`), label: 'Greatest position', optional: 'no limit' }),
    numberField(bench, { pointer: at(`axes/${axis}/accel_mm_s2`), label: 'Acceleration', kind: 'plain', unit: 'mm/s²', step: 10, optional: true }),
    numberField(bench, { pointer: at(`axes/${axis}/backlash_mm`), label: 'Backlash', step: 0.01, least: 0, optional: true }),
    tickField(bench, { pointer: at(`axes/${axis}/reversed`), label: 'Runs the other way' }),
  ])]);
  const rotary = folded('Rotary axis', [group([
    textField(bench, { pointer: at('axes/rotary/letter'), label: 'Letter', hint: 'A', most: 1, wide: false }),
    numberField(bench, { pointer: at('axes/rotary/rapid_deg_min'), label: 'Rapid', kind: 'plain', unit: '°/min', step: 100, optional: true }),
    numberField(bench, { pointer: at('axes/rotary/min_deg'), label: 'Least angle', kind: 'angle', step: 10, optional: 'no limit' }),
    numberField(bench, { pointer: at('axes/rotary/max_deg'), label: 'Greatest angle', kind: 'angle', step: 10, optional: 'no limit' }),
    numberField(bench, { pointer: at('axes/rotary/accel_deg_s2'), label: 'Acceleration', kind: 'plain', unit: '°/s²', step: 10, optional: true }),
    numberField(bench, { pointer: at('axes/rotary/backlash_deg'), label: 'Backlash', kind: 'angle', step: 0.01, least: 0, optional: true }),
    tickField(bench, { pointer: at('axes/rotary/reversed'), label: 'Runs the other way' }),
  ]), choice('rotary_unit', 'The rotary word is', [['deg', 'degrees'], ['mm-per-turn', 'mm a turn']]),
  rebuilt(bench, (state) => machineOf(state).rotary_unit ?? 'deg', (state) => (machineOf(state).rotary_unit === 'mm-per-turn' ? [group([numberField(bench, { pointer: at('axes/rotary/mm_per_turn'), label: 'Mm for a turn', least: 0.01, optional: 'needed' })])] : []))]);
  const zero = rebuilt(bench, (state) => machineOf(state).z_zero ?? 'axis', (state) => (machineOf(state).z_zero === 'surface' ? [group([
    numberField(bench, { pointer: at('touch_off/x_mm'), label: 'Touch-off x', optional: 'by the plan' }),
    numberField(bench, { pointer: at('touch_off/angle_deg'), label: 'Touch-off angle', kind: 'angle', optional: true })])] : []));
  return [folded('Machine', [
    selectField(bench, {
      label: 'Profile', value: (state) => machineOf(state).profile ?? 'default',
      choices: (state) => [...new Map([['default', 'default'], ...state.library.machines.map((/** @type {any} */ one) => [one.name ?? one.id, one.name ?? one.id]), ...(machineOf(state).profile ? [[machineOf(state).profile, machineOf(state).profile]] : [])]).entries()],
      pick: (name) => put({ profile: name === 'default' ? undefined : name }, 'change the machine'),
    }),
    choice('feed_rule', 'What the controller makes of an F word', [['inverse-time', 'inverse time'], ['linear-axes-only', 'linear axes only'], ['all-axes', 'all axes, degrees as mm']]),
    choice('z_zero', 'Z is zero', [['axis', 'on the axis'], ['surface', 'on the skin']]), zero,
    group([
      numberField(bench, { pointer: at('clearance_mm'), label: 'Clearance', step: 0.5, least: 0.1, optional: true }),
      numberField(bench, { pointer: at('approach_mm'), label: 'Approach', step: 0.05, least: 0.01, optional: true }),
      numberField(bench, { pointer: at('decimals'), label: 'Decimals', kind: 'whole', least: 1, optional: true }),
      numberField(bench, { pointer: at('dwell_s'), label: 'Wait for the spindle', kind: 'plain', unit: 's', step: 0.5, least: 0, optional: true }),
      numberField(bench, { pointer: at('axis_error_mm'), label: 'Tool off axis', step: 0.05, least: 0, optional: 'not known' }),
      numberField(bench, { pointer: at('zero_error_mm'), label: 'Z zero, error', step: 0.01, least: 0, optional: 'none' }),
      numberField(bench, { pointer: at('longest_line'), label: 'Longest line', kind: 'whole', unit: 'characters', least: 40, optional: 'no limit' }),
      numberField(bench, { pointer: at('memory_bytes'), label: 'Program memory', kind: 'whole', unit: 'bytes', least: 1000, optional: 'no limit' }),
    ]),
    folded('Collet and nose', [group([
      numberField(bench, { pointer: at('spindle/collet_mm'), label: 'Collet ⌀', step: 0.5, least: 0.1, optional: 'not known' }),
      numberField(bench, { pointer: at('spindle/collet_length_mm'), label: 'Collet to nose', step: 0.5, least: 0, optional: true }),
      numberField(bench, { pointer: at('spindle/nose_mm'), label: 'Nose ⌀', step: 1, least: 0.1, optional: 'not known' }),
    ])], 'What stands above the tool; with the stick-out, the proof keeps it clear of blank and holding.'),
    linear('axial', 'Carriage axis'), linear('radial', 'Radial axis'), rotary,
    folded('Parking', [group([
      numberField(bench, { pointer: at('park/x_mm'), label: 'Park x', optional: 'stays above' }),
      numberField(bench, { pointer: at('park/angle_deg'), label: 'Park angle', kind: 'angle', optional: true }),
      numberField(bench, { pointer: at('park/lift_mm'), label: 'Lift', least: 0, optional: true }),
    ])], 'Where the tool waits afterwards.'),
    lines(bench, 'header', 'Lines of your own before the moves'), lines(bench, 'footer', 'Lines of your own at the end'),
    hint('Positions and angles here are the machine’s own. Check which feed rule your controller keeps before the first run.'),
  ])];
}

/** @param {import('./fields.js').Bench} bench @param {'header'|'footer'} key @param {string} label @returns {import('./fields.js').Field} */
function lines({ store }, key, label) {
  const id = `machine-${key}`;
  const area = document.createElement('textarea');
  area.id = id;
  area.rows = 2;
  area.className = 'line';
  area.spellcheck = false;
  area.addEventListener('change', () => {
    const list = area.value.split('\n').map((line) => line.trimEnd()).filter((line) => line !== '');
    store.dispatch({ type: 'put', pointer: '/machine', value: { ...machineOf(store.state), [key]: list.length ? list : undefined }, label: `change ${label.toLowerCase()}` });
  });
  const node = document.createElement('div');
  node.className = 'field wide';
  const name = document.createElement('label');
  name.htmlFor = id;
  name.textContent = label;
  node.append(name, area);
  const render = () => { if (document.activeElement !== area) area.value = (machineOf(store.state)[key] ?? []).join('\n'); };
  render();
  return { node, render };
}
