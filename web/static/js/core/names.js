// @ts-check
/** What a piece of art is called on the page: as on the setup sheet and in findings, but that the page knows the files. */
import { borderName } from './arranging.js';

const MOST = 40; // characters of a text that stand for it

/** A text's first line that is not blank, shortened at a word. @param {string} string @returns {string} */
export function firstWords(string) {
  const lines = string.split(/[\n\r\u2028\u2029]/).map((line) => line.replace(/[ \t]+/g, ' ').replace(/^ +| +$/g, ''));
  const line = Array.from(lines.find(Boolean) ?? '');
  if (line.length <= MOST) return line.join('');
  const head = line.slice(0, MOST - 1);
  const end = line[MOST - 1] === ' ' ? head.length : head.lastIndexOf(' ');
  return `${(end > MOST / 2 ? head.slice(0, end) : head).join('').replace(/ +$/, '')}…`;
}

/** @param {any} item @param {number} index @param {string} [file] the name of the file that it came from @returns {string} */
export const artName = (item, index, file = '') => item.name || (item.text ? firstWords(item.text.string ?? '') : '') || (item.border ? borderName(item.border) : file) || `art ${index + 1}`;
