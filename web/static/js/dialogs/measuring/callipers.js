// @ts-check
/** Callipers: a table that is typed fast, one diameter at each station or two at right angles; and the egg curve. */
import { emptyTable, openEnded, pasted, shownAs, stationsOf, withCell, cellOf } from '../../core/measured/table.js';
import { QUANTITIES } from '../../core/quantity.js';
import { unitName } from '../../core/units.js';
import { el } from '../../views/dom.js';
import { numberField } from '../../views/forms/fields.js';
import { actField, createForm, on } from './form.js';

const COLUMNS = ['Station x', 'Diameter', 'At right angles'];

/** @param {HTMLElement} element @param {import('./ways.js').MeasuringBench} bench @returns {import('./ways.js').Mounted} */
function mount(element, bench) {
  const { store, memory } = bench;
  memory.table = shownAs(openEnded(memory.table ?? emptyTable(4, COLUMNS.length)), store.state.unit);
  let shownUnit = store.state.unit;
  const form = createForm(bench, 'form', {});
  const heads = COLUMNS.map((word) => el('th', { scope: 'col' }, word, el('span', { class: 'unit' })));
  const body = el('tbody');
  const why = el('p', { class: 'why', role: 'status', id: 'callipers-why' });
  const inputs = () => [.../** @type {NodeListOf<HTMLInputElement>} */ (body.querySelectorAll('input'))];
  /** @param {number} row @param {number} column */
  const inputAt = (row, column) => inputs()[row * COLUMNS.length + column];

  /** @param {number} row @param {number} column */
  function cellNode(row, column) {
    const input = el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', spellcheck: 'false', 'aria-label': `${COLUMNS[column]}, row ${row + 1}`, 'aria-describedby': 'callipers-why' });
    const take = () => {
      if (half === input) half = null;
      if (input.value === memory.table[row][column].text) return;
      memory.table = openEnded(withCell(memory.table, row, column, cellOf(input.value, store.state.unit)));
      render();
    };
    const go = (/** @type {number} */ to) => {
      take();
      const next = inputAt(Math.max(0, to), column);
      next?.focus();
      next?.select();
    };
    input.addEventListener('input', () => { half = input; });
    input.addEventListener('change', take);
    input.addEventListener('blur', take);
    input.addEventListener('focus', () => input.select());
    input.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
      const to = event.key === 'Enter' ? row + (event.shiftKey ? -1 : 1) : event.key === 'ArrowDown' ? row + 1 : event.key === 'ArrowUp' ? row - 1 : null;
      if (to === null) return;
      event.preventDefault();
      go(to);
    });
    input.addEventListener('paste', (/** @type {ClipboardEvent} */ event) => {
      const text = event.clipboardData?.getData('text') ?? '';
      if (!/[\t;\n\r]|\S\s+\S/.test(text.trim())) return;
      event.preventDefault();
      half = null;
      memory.table = openEnded(pasted(memory.table, row, column, text, store.state.unit));
      render();
    });
    return el('td', {}, input);
  }

  function render() {
    const { unit } = store.state;
    if (unit !== shownUnit) { memory.table = shownAs(memory.table, unit); shownUnit = unit; }
    while (body.rows.length > memory.table.length) body.rows[body.rows.length - 1].remove();
    for (let row = body.rows.length; row < memory.table.length; row += 1) {
      body.append(el('tr', {}, el('th', { scope: 'row' }, String(row + 1)), ...COLUMNS.map((_, column) => cellNode(row, column))));
    }
    for (const head of heads) head.lastChild.textContent = ` ${unitName(unit)}`;
    const { faults, stations } = stationsOf(memory.table);
    const all = inputs();
    memory.table.forEach((/** @type {any} */ cells, /** @type {number} */ row) => cells.forEach((/** @type {any} */ cell, /** @type {number} */ column) => {
      const input = all[row * COLUMNS.length + column];
      if (input !== half && input.value !== cell.text) input.value = cell.text;
      const fault = refused.find((one) => one.row === row && one.column === column) ?? (typing(row) ? undefined : faults.find((one) => one.row === row && one.column === column));
      if (fault) input.setAttribute('aria-invalid', 'true'); else input.removeAttribute('aria-invalid');
    }));
    const first = refused[0] ?? faults.find((one) => !typing(one.row));
    why.textContent = first ? `Row ${first.row + 1}: ${first.why}` : '';
    measure.render();
    egg.render();
    count.textContent = stations.length ? `${stations.length} stations from x ${QUANTITIES.length.show(stations[0].x_mm, unit)} to ${QUANTITIES.length.show(stations[stations.length - 1].x_mm, unit)} ${unitName(unit)}` : '';
  }
  /** What is half typed is not written over. @type {HTMLInputElement|null} */
  let half = null;
  /** A row that is being typed is not scolded yet. @param {number} row */
  const typing = (row) => body.rows[row]?.contains(document.activeElement) ?? false;
  /** @type {{ row: number, column: number, why: string }[]} */
  let refused = [];

  /** @param {number} least */
  const lacks = (least) => {
    const { faults, stations } = stationsOf(memory.table);
    return faults.length ? `Mend row ${faults[0].row + 1} first.` : stations.length < least ? `It takes ${least} stations or more.` : '';
  };
  function asked() {
    const { reading_error_mm } = form.value;
    return { stations: stationsOf(memory.table).stations, ...(reading_error_mm === undefined ? {} : { reading_error_mm }) };
  }
  const measure = actField('Measure', () => lacks(2), () => bench.run('The readings are being joined …', (signal) => bench.ask('callipers', asked(), signal)), 'main');
  const egg = actField('Fit an egg curve', () => lacks(4), () => bench.run('The curve is being fitted …', (signal) => {
    const { length_mm } = form.value;
    return bench.ask('ovoid', { ...asked(), ...(length_mm === undefined ? {} : { length_mm }) }, signal);
  }));
  const count = el('p', { class: 'hint' });
  const wipe = el('button', { type: 'button', class: 'btn small', onclick: () => { memory.table = emptyTable(4, COLUMNS.length); render(); inputAt(0, 0).focus(); } }, 'Empty the table');
  element.append(
    el('div', { class: 'sheet-table' }, el('table', {}, el('caption', { class: 'unseen' }, 'Calliper readings'), el('thead', {}, el('tr', {}, el('th', { scope: 'col' }, el('span', { class: 'unseen' }, 'row')), ...heads)), body)),
    why, count,
    el('p', { class: 'hint' }, 'Enter goes down, Tab to the right, arrows up and down. Cells copied from a spreadsheet can be pasted, decimal commas too. Where the section is oval, take a second diameter at right angles: the first from 0° to 180°, the second from 90° to 270°.'),
    el('div', { class: 'row' }, wipe));
  form.fill(element, [
    numberField(form.bench, { pointer: on('/reading_error_mm'), label: 'A diameter is read to ±', optional: '0.05 mm', least: 0, step: 0.01 }), measure,
    numberField(form.bench, { pointer: on('/length_mm'), label: 'Length of the egg', optional: 'from the readings', least: 0.1 }), egg,
  ]);
  body.addEventListener('focusout', () => requestAnimationFrame(() => { if (body.isConnected) render(); }));
  render();
  return {
    dispose() { element.replaceChildren(); },
    render() { render(); form.render(); },
    fault(faults) {
      const { rows } = stationsOf(memory.table);
      const keys = ['x_mm', 'diameter_mm', 'across_mm'];
      refused = faults.flatMap(({ pointer, allowed }) => {
        const at = /^\/stations\/(\d+)(?:\/(\w+))?/.exec(pointer);
        return at ? [{ row: rows[Number(at[1])] ?? 0, column: Math.max(0, keys.indexOf(at[2])), why: `The server asks for ${allowed}.` }] : [];
      });
      form.fault(faults);
      render();
    },
  };
}

/** @type {import('./ways.js').Way} */
export const callipers = { id: 'callipers', label: 'Callipers', note: 'Diameters at stations along the axis. Quick, and enough for what is turned or nearly round.', mount };
