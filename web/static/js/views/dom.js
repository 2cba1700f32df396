// @ts-check
/**
 * @param {string} tag @param {Record<string, unknown>} [props] attributes; `on…` are listeners
 * @param {...(Node|string|null)} children @returns {any}
 */
export function el(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  dress(node, props);
  node.append(...children.filter((child) => child !== null).map((child) => /** @type {Node|string} */ (child)));
  return node;
}

/** The same for SVG. @param {string} tag @param {Record<string, unknown>} [props] @param {...Element} children @returns {any} */
export function svg(tag, props = {}, ...children) {
  const node = document.createElementNS('http://www.w3.org/2000/svg', tag);
  dress(node, props);
  node.append(...children);
  return node;
}

/** @param {Element} node @param {Record<string, unknown>} props */
function dress(node, props) {
  for (const [key, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith('on') && typeof value === 'function') node.addEventListener(key.slice(2), /** @type {EventListener} */ (value));
    else node.setAttribute(key, value === true ? '' : String(value));
  }
}

/** A button that stays down. @param {string} text @param {boolean} pressed @param {(down: boolean) => void} press */
export function chip(text, pressed, press) {
  const node = el('button', { type: 'button', class: 'chip', 'aria-pressed': String(pressed) }, text);
  node.addEventListener('click', () => press(node.getAttribute('aria-pressed') !== 'true'));
  return node;
}

const INKS = ['paper', 'sheet', 'ink', 'ink-2', 'rule', 'rule-2', 'brass', 'brass-wash', 'good', 'warn', 'bad', 'hatch', 'edge', 'steel', 'seam'];
/** The drawing inks of the present ground, read from the style sheet. @returns {Record<string, string>} */
export function inks() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(INKS.map((name) => [name.replace(/-(.)/g, (_, c) => c.toUpperCase()), style.getPropertyValue(`--${name}`).trim()]));
}

/** @param {string} hex '#rrggbb' @returns {[number, number, number]} 0 … 1 */
export const rgb = (hex) => /** @type {[number, number, number]} */ ([1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255));

export const calm = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

/** Gives a file to the person. @param {{ file: Blob, name: string }} got */
export function handOver({ file, name }) {
  const href = URL.createObjectURL(file);
  el('a', { href, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000); // the browser reads it after the click has returned
}
