// @ts-check
/** The curve of a picture's greys, by points that are dragged or moved by keys. */
import { STRAIGHT, isStraight, movedTo, withPoint, without } from '../../core/curve.js';
import { el } from '../dom.js';

const SIDE = 200;
const PAD = 8;
const NS = 'http://www.w3.org/2000/svg';

/** @param {string} name @param {Record<string, string>} attributes */
function svg(name, attributes) {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  return node;
}

/** @param {import('./fields.js').Bench} bench @param {{ pointer: (state: any) => string, read: (state: any) => any }} spec @returns {import('./fields.js').Field} */
export function curveField({ store }, { pointer, read }) {
  const frame = svg('svg', { viewBox: `${-PAD} ${-PAD} ${SIDE + 2 * PAD} ${SIDE + 2 * PAD}`, class: 'curve', role: 'group', 'aria-label': 'Curve of the greys' });
  const held = () => /** @type {import('../../core/curve.js').Point[]} */ (read(store.state) ?? STRAIGHT);
  const put = (/** @type {import('../../core/curve.js').Point[]} */ points) => store.dispatch({ type: 'put', pointer: pointer(store.state), value: isStraight(points) ? undefined : points, label: 'change the curve' });
  const place = (/** @type {PointerEvent} */ event) => {
    const box = frame.getBoundingClientRect();
    const k = (SIDE + 2 * PAD) / box.width;
    return /** @type {[number, number]} */ ([((event.clientX - box.left) * k - PAD) / SIDE, 1 - ((event.clientY - box.top) * k - PAD) / SIDE]);
  };
  let at = 0;

  frame.addEventListener('pointerdown', (event) => {
    const point = /** @type {SVGElement} */ (event.target).dataset.k;
    if (point === undefined) {
      const added = withPoint(held(), place(/** @type {PointerEvent} */ (event)));
      if (!added) return;
      at = added.k;
      store.begin('change the curve');
      put(added.points);
    } else { at = Number(point); store.begin('change the curve'); }
    frame.setPointerCapture(/** @type {PointerEvent} */ (event).pointerId);
    frame.onpointermove = (move) => put(movedTo(held(), at, place(move)));
    frame.onpointerup = () => { frame.onpointermove = null; frame.onpointerup = null; store.commit(); };
  });
  frame.addEventListener('dblclick', (event) => {
    const point = /** @type {SVGElement} */ (event.target).dataset.k;
    if (point !== undefined) put(without(held(), Number(point)));
  });
  frame.addEventListener('keydown', (event) => {
    const point = /** @type {SVGElement} */ (event.target).dataset.k;
    if (point === undefined) return;
    const [k, points] = [Number(point), held()];
    const key = /** @type {KeyboardEvent} */ (event).key;
    const by = /** @type {KeyboardEvent} */ (event).shiftKey ? 0.1 : 0.01;
    /** @type {Record<string, [number, number]>} */
    const steps = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, by], ArrowDown: [0, -by] };
    if (key === 'Delete' || key === 'Backspace') put(without(points, k));
    else if (steps[key]) put(movedTo(points, k, [points[k][0] + steps[key][0], points[k][1] + steps[key][1]]));
    else return;
    event.preventDefault();
    /** @type {SVGElement|null} */ (frame.querySelector(`[data-k="${k}"]`))?.focus();
  });

  const render = () => {
    const points = held();
    const focused = /** @type {SVGElement|null} */ (document.activeElement)?.dataset?.k;
    const spot = (/** @type {[number, number]} */ [x, y]) => `${x * SIDE},${(1 - y) * SIDE}`;
    frame.replaceChildren(
      svg('path', { class: 'net', d: [0, 0.25, 0.5, 0.75, 1].map((t) => `M${t * SIDE} 0V${SIDE}M0 ${t * SIDE}H${SIDE}`).join('') }),
      svg('polyline', { class: 'line', points: points.map(spot).join(' ') }),
      ...points.map((point, k) => {
        const dot = svg('circle', { class: 'dot', cx: String(point[0] * SIDE), cy: String((1 - point[1]) * SIDE), r: '6', tabindex: '0', role: 'slider', 'aria-label': `grey ${Math.round(point[0] * 100)} becomes`, 'aria-valuenow': String(Math.round(point[1] * 100)), 'aria-valuemin': '0', 'aria-valuemax': '100' });
        dot.dataset.k = String(k);
        return dot;
      }),
    );
    if (focused !== undefined && frame.parentElement?.contains(document.activeElement) === false) /** @type {SVGElement|null} */ (frame.querySelector(`[data-k="${focused}"]`))?.focus();
  };
  render();
  return { node: el('div', { class: 'field wide' }, el('span', { class: 'name' }, 'Curve: dark at the left, light at the right'), frame, el('p', { class: 'hint' }, 'Press the line for a point more; Delete or a double press takes one away.')), render };
}
