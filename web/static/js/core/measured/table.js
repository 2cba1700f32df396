// @ts-check
/**
 * A table of lengths that is typed or pasted: rows of cells, each with its words, its length in mm (null: none) and why
 * it was not taken. Pure: every change gives a new table.
 * @typedef {{ text: string, mm: number|null, why: string }} Cell
 * @typedef {readonly (readonly Cell[])[]} Table
 * @typedef {'mm'|'inch'} Unit
 */
import { QUANTITIES } from '../quantity.js';

/** @type {Cell} */
const EMPTY = Object.freeze({ text: '', mm: null, why: '' });
const MOST_ROWS = 2000;
const DECIMAL_COMMA = /^[+\-\u2212]?\d*,\d+$/;

/** @param {number} rows @param {number} columns @returns {Table} */
export const emptyTable = (rows, columns) => Array.from({ length: rows }, () => Array.from({ length: columns }, () => EMPTY));

/** A comma with digits behind it, and no point, is a decimal mark here: the cell shows at once how it was read. @param {string} text */
const pointed = (text) => (DECIMAL_COMMA.test(text.trim()) ? text.replace(',', '.') : text);

/** @param {string} text @param {Unit} unit @returns {Cell} */
export function cellOf(text, unit) {
  if (text.trim() === '') return EMPTY;
  const got = QUANTITIES.length.read(pointed(text), unit);
  if (!got.ok) return { text, mm: null, why: got.why };
  const mm = Number(got.value.toFixed(6));
  return { text: QUANTITIES.length.show(mm, unit), mm, why: '' };
}

/** @param {Table} table @param {number} row @param {number} column @param {Cell} cell @returns {Table} with as many rows as it takes */
export function withCell(table, row, column, cell) {
  const wide = table[0].length;
  const rows = row < table.length ? table : [...table, ...emptyTable(row + 1 - table.length, wide)];
  return rows.map((cells, r) => (r === row ? cells.map((one, c) => (c === column ? cell : one)) : cells));
}

/** The same lengths in words of another unit; what was not taken stays as typed. @param {Table} table @param {Unit} unit @returns {Table} */
export const shownAs = (table, unit) => table.map((cells) => cells.map((cell) => (cell.mm === null ? cell : { ...cell, text: QUANTITIES.length.show(cell.mm, unit) })));

/**
 * Rows and cells of a spreadsheet's text: columns are parted by tabs, else by semicolons, else by spaces or by commas
 * that a space follows. A heading, a first line without any number, is left out.
 * @param {string} text @returns {string[][]}
 */
export function cellsOf(text) {
  const lines = text.replace(/\r\n?/g, '\n').replace(/\n+$/, '').split('\n');
  const mark = lines.some((line) => line.includes('\t')) ? '\t' : lines.some((line) => line.includes(';')) ? ';' : /,\s+|\s+/;
  const rows = lines.map((line) => (typeof mark === 'string' ? line : line.trim()).split(mark).map((cell) => cell.trim()));
  return rows.length > 1 && !rows[0].some((cell) => /^[+\-\u2212.,]?\d/.test(cell)) ? rows.slice(1) : rows;
}

/**
 * What was pasted, written over the table from a cell on. Points within a paste tell that its commas are no decimal marks.
 * @param {Table} table @param {number} row @param {number} column @param {string} text @param {Unit} unit @returns {Table}
 */
export function pasted(table, row, column, text, unit) {
  const cells = cellsOf(text).slice(0, MOST_ROWS - row);
  const mixed = cells.flat().some((cell) => cell.includes('.')) && cells.flat().some((cell) => cell.includes(','));
  let next = row + cells.length > table.length ? withCell(table, row + cells.length - 1, 0, table[row + cells.length - 1]?.[0] ?? EMPTY) : table;
  const read = (/** @type {string} */ one) => (mixed && one.includes(',') ? { text: one, mm: null, why: 'Points and commas stand side by side here: write points only.' } : cellOf(one, unit));
  next = next.map((old, r) => (r < row || r >= row + cells.length ? old : old.map((cell, c) => {
    const one = cells[r - row][c - column];
    return c < column || one === undefined ? cell : read(one);
  })));
  return next;
}

/** @param {Table} table @returns {Table} with one empty row at its end and none too many */
export function openEnded(table) {
  const last = table.findLastIndex((cells) => cells.some((cell) => cell.text.trim() !== ''));
  const least = Math.max(last + 2, 4);
  return table.length === least ? table : table.length > least ? table.slice(0, least) : [...table, ...emptyTable(least - table.length, table[0].length)];
}

/**
 * The stations of the table in order of x, and what is wrong with its rows. Empty rows are no rows.
 * @param {Table} table columns x, diameter, diameter across
 * @returns {{ stations: { x_mm: number, diameter_mm: number, across_mm?: number }[], rows: number[], faults: { row: number, column: number, why: string }[] }}
 *   `rows`: the row of the table behind each station
 */
export function stationsOf(table) {
  /** @type {{ row: number, x_mm: number, diameter_mm: number, across_mm?: number }[]} */
  const found = [];
  /** @type {{ row: number, column: number, why: string }[]} */
  const faults = [];
  table.forEach((cells, row) => {
    if (cells.every((cell) => cell.text.trim() === '')) return;
    const before = faults.length;
    cells.forEach((cell, column) => {
      if (cell.why) faults.push({ row, column, why: cell.why });
      else if (cell.mm === null && column < 2) faults.push({ row, column, why: column ? 'Type the diameter here.' : 'Type where the diameter was taken.' });
      else if (cell.mm !== null && column > 0 && !(cell.mm > 0)) faults.push({ row, column, why: 'A diameter is more than nought.' });
    });
    const [x, diameter, across] = cells.map((cell) => cell.mm);
    if (faults.length > before || x === null || diameter === null) return;
    const twin = found.find((one) => one.x_mm === x);
    if (twin) faults.push({ row, column: 0, why: `Row ${twin.row + 1} stands at the same place.` });
    else found.push({ row, x_mm: x, diameter_mm: diameter, ...(across === null || across === undefined ? {} : { across_mm: across }) });
  });
  found.sort((a, b) => a.x_mm - b.x_mm);
  return { stations: found.map(({ row: _, ...station }) => station), rows: found.map((one) => one.row), faults };
}
