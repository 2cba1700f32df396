// @ts-check
/**
 * The hand over a photograph: the two points of the axis, lassos, points of the edge, by pointer and by keys. It knows
 * pictures' pixels only; what is seen is asked of the desk.
 */
import { nearest, round, thinned, toPicture, within } from '../../../core/photographs/sight.js';

/** @typedef {[number, number]} Point */

const FINE_PX = 0.25;
const COARSE_PX = 10;
const REACH = 16; // canvas px
const MOST_CORNERS = 1000;
const MOST_LASSOS = 64;
const ARROWS = /** @type {Record<string, Point>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });

/**
 * @param {HTMLCanvasElement} canvas @param {any} store
 * @param {{ sight: () => any, setSight: (sight: any) => void, size: () => Point|null, zoom: (at: Point|null, by: number) => void, whole: () => void, edge: () => Point[], show: (place: Point) => void, ask: () => void, say: (words: string) => void }} desk
 * @param {AbortSignal} signal
 */
export function attachHand(canvas, store, desk, signal) {
  const on = { signal };
  /** What is under way. @type {{ active: 'from_px'|'to_px', path: Point[], cursor: Point|null, pending: { from: Point, to: Point }|null, at: number, loupe: Point|null }} */
  const hand = { active: 'from_px', path: [], cursor: null, pending: null, at: -1, loupe: null };
  let burst = 0;
  /** @type {((at: Point, canvas: Point) => void)|null} */
  let drag = null;
  /** @type {(() => void)|null} */
  let drop = null;
  const mode = () => store.state.mode;
  const lasso = () => (mode() === 'include' || mode() === 'exclude' ? mode() : null);
  const inside = (/** @type {Point} */ at) => { const size = desk.size(); return size ? within(at, size[0], size[1]) : at; };
  const place = (/** @type {PointerEvent|WheelEvent} */ event) => { const box = canvas.getBoundingClientRect(); return /** @type {Point} */ ([event.clientX - box.left, event.clientY - box.top]); };
  const words = (/** @type {Point} */ at) => `${at[0].toFixed(2)}, ${at[1].toFixed(2)} px`;

  function clear() { Object.assign(hand, { path: [], pending: null, at: -1, loupe: null }); }

  /** @param {Point} at @param {string} [merge] */
  function putAxis(at, merge) {
    const { axis } = store.state.doc;
    const put = inside(at);
    const next = axis ? { ...axis, [hand.active]: put } : { from_px: put, to_px: put };
    hand.loupe = put;
    store.dispatch({ type: 'put', pointer: '/axis', value: next, label: 'move the axis', merge });
  }

  /** A point of the edge, or one that was moved before, near a place. @param {Point} at @param {number} reach px @returns {{ from: Point, to: Point }|null} */
  function edgeNear(at, reach) {
    const { moved } = store.state.doc.photos[store.state.selected];
    const [held, far] = nearest(moved.map((/** @type {any} */ one) => one.to_px), at);
    if (held >= 0 && far <= reach) return { from: moved[held].from_px, to: moved[held].to_px };
    const points = desk.edge();
    const [i, distance] = nearest(points, at);
    if (i < 0 || distance > reach) return null;
    const point = /** @type {Point} */ ([round(points[i][0]), round(points[i][1])]);
    hand.at = i;
    return { from: point, to: point };
  }

  function keepMoved(/** @type {string|undefined} */ merge) {
    const { pending } = hand;
    if (!pending || (pending.from[0] === pending.to[0] && pending.from[1] === pending.to[1])) return;
    store.dispatch({ type: 'moved', index: store.state.selected, from: pending.from, to: pending.to, label: 'move a point of the edge', merge });
  }

  function keepLasso() {
    let step = 2 / desk.sight().zoom;
    while (thinned(hand.path, step).length > MOST_CORNERS) step *= 2;
    const corners = thinned(hand.path, step).map(inside);
    hand.path = [];
    const what = lasso();
    if (what && store.state.doc.photos[store.state.selected][what].length >= MOST_LASSOS) { desk.say('No more lassos are taken on this photograph: undo one.'); return; }
    if (what && corners.length >= 3) store.dispatch({ type: 'lasso', index: store.state.selected, what, corners, label: what === 'include' ? 'add to the body' : 'take from the body' });
    desk.ask();
  }

  canvas.addEventListener('pointerdown', (event) => {
    if (!desk.size() || event.button > 1) return;
    const spot = place(event);
    const at = toPicture(desk.sight(), spot);
    canvas.setPointerCapture(event.pointerId);
    hand.cursor = null;
    begin(event.button === 1 ? 'look' : mode(), at, spot);
    desk.ask();
  }, on);

  /** @param {string} how @param {Point} at @param {Point} spot */
  function begin(how, at, spot) {
    const { zoom } = desk.sight();
    if (how === 'axis') {
      const { axis } = store.state.doc;
      store.begin('move the axis');
      drop = () => { store.commit(); hand.loupe = null; };
      if (axis) {
        const ends = /** @type {('from_px'|'to_px')[]} */ (['from_px', 'to_px']);
        const [i, far] = nearest(ends.map((end) => axis[end]), at);
        if (far * zoom > 3 * REACH) { store.cancel(); drop = null; return look(spot); }
        hand.active = ends[i];
        const [dx, dy] = [axis[ends[i]][0] - at[0], axis[ends[i]][1] - at[1]];
        hand.loupe = axis[ends[i]];
        drag = (now) => putAxis([now[0] + dx, now[1] + dy]);
      } else {
        putAxis(at);
        hand.active = 'to_px';
        drag = (now) => putAxis(now);
      }
      return undefined;
    }
    if (lasso() && how !== 'look') {
      hand.path = [at];
      drag = (now) => { hand.path.push(now); };
      drop = keepLasso;
      return undefined;
    }
    const found = how === 'move' ? edgeNear(at, REACH / zoom) : null;
    if (!found) return look(spot);
    hand.pending = found;
    drag = (now) => { hand.pending = { from: found.from, to: inside(now) }; hand.loupe = hand.pending.to; };
    drop = () => { keepMoved(undefined); clear(); };
    return undefined;
  }

  /** The picture is pushed about. @param {Point} spot */
  function look(spot) {
    let last = spot;
    drag = (_, now) => { const sight = desk.sight(); desk.setSight({ ...sight, left: sight.left + now[0] - last[0], top: sight.top + now[1] - last[1] }); last = now; };
  }

  canvas.addEventListener('pointermove', (event) => { if (!drag) return; const spot = place(event); drag(toPicture(desk.sight(), spot), spot); desk.ask(); }, on);
  canvas.addEventListener('pointerup', () => { drop?.(); drag = drop = null; desk.ask(); }, on);
  canvas.addEventListener('pointercancel', () => { store.cancel(); clear(); drag = drop = null; desk.ask(); }, on);
  canvas.addEventListener('wheel', (event) => { event.preventDefault(); desk.zoom(place(event), Math.exp(-event.deltaY * 0.0015)); }, { signal, passive: false });
  canvas.addEventListener('focus', () => { burst += 1; desk.ask(); }, on);
  canvas.addEventListener('blur', () => { clear(); hand.cursor = null; desk.ask(); }, on);

  canvas.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !desk.size()) return;
    if (key(event.key, event.shiftKey)) { event.preventDefault(); event.stopPropagation(); desk.ask(); }
  }, on);

  /** @param {string} name @param {boolean} shift @returns {boolean} whether it meant something */
  function key(name, shift) {
    if (name === '+' || name === '=') { desk.zoom(null, 1.25); return true; }
    if (name === '-') { desk.zoom(null, 0.8); return true; }
    if (name === '0') { desk.whole(); return true; }
    if (name === 'Escape' && (hand.path.length || hand.pending)) { clear(); desk.say('Left as it was.'); return true; }
    const arrow = ARROWS[name];
    if (mode() === 'axis') return axisKey(name, arrow, shift);
    if (mode() === 'move') return edgeKey(name, arrow, shift);
    if (lasso()) return lassoKey(name, arrow, shift);
    if (!arrow) return false;
    const sight = desk.sight();
    desk.setSight({ ...sight, left: sight.left - arrow[0] * 40, top: sight.top - arrow[1] * 40 });
    return true;
  }

  /** @param {string} name @param {Point|undefined} arrow @param {boolean} shift */
  function axisKey(name, arrow, shift) {
    const { axis } = store.state.doc;
    const size = /** @type {Point} */ (desk.size());
    if (name === 'Enter' || name === ' ') {
      if (!axis) store.dispatch({ type: 'put', pointer: '/axis', value: { from_px: inside([size[0] * 0.1, size[1] / 2]), to_px: inside([size[0] * 0.9, size[1] / 2]) }, label: 'set the axis' });
      else hand.active = hand.active === 'from_px' ? 'to_px' : 'from_px';
      burst += 1;
    } else if (arrow && axis) {
      const by = shift ? COARSE_PX : FINE_PX;
      putAxis([axis[hand.active][0] + arrow[0] * by, axis[hand.active][1] + arrow[1] * by], `axis/${hand.active}/${burst}`);
    } else return false;
    const now = store.state.doc.axis[hand.active];
    hand.loupe = now;
    desk.show(now);
    desk.say(`${hand.active === 'from_px' ? 'Point at x = 0' : 'Point at the far end'}: ${words(now)}.`);
    return true;
  }

  /** @param {string} name @param {Point|undefined} arrow @param {boolean} shift */
  function edgeKey(name, arrow, shift) {
    const points = desk.edge();
    if (!points.length) return false;
    if (name === 'PageUp' || name === 'PageDown') {
      const step = (name === 'PageDown' ? 1 : -1) * Math.max(1, Math.round(points.length / (shift ? 400 : 60)));
      hand.at = hand.at < 0 ? 0 : (hand.at + step + points.length) % points.length;
      const point = /** @type {Point} */ ([round(points[hand.at][0]), round(points[hand.at][1])]);
      hand.pending = { from: point, to: point };
      burst += 1;
    } else if (arrow && hand.pending) {
      const by = shift ? COARSE_PX : FINE_PX;
      hand.pending = { from: hand.pending.from, to: inside([hand.pending.to[0] + arrow[0] * by, hand.pending.to[1] + arrow[1] * by]) };
    } else if (name === 'Enter' && hand.pending) {
      keepMoved(undefined);
      clear();
      desk.say('The point is moved.');
      return true;
    } else return false;
    const { to } = /** @type {{ to: Point }} */ (hand.pending);
    hand.loupe = to;
    desk.show(to);
    desk.say(`Point of the edge: ${words(to)}.`);
    return true;
  }

  /** @param {string} name @param {Point|undefined} arrow @param {boolean} shift */
  function lassoKey(name, arrow, shift) {
    const size = /** @type {Point} */ (desk.size());
    hand.cursor ??= toPicture(desk.sight(), [canvas.clientWidth / 2, canvas.clientHeight / 2]);
    if (arrow) {
      const by = (shift ? 1 : 12) / desk.sight().zoom;
      hand.cursor = within([hand.cursor[0] + arrow[0] * by, hand.cursor[1] + arrow[1] * by], size[0], size[1]);
    } else if (name === ' ') hand.path.push(hand.cursor);
    else if (name === 'Backspace') hand.path.pop();
    else if (name === 'Enter' && hand.path.length >= 3) { keepLasso(); desk.say('The lasso is closed.'); return true; } else return false;
    desk.show(hand.cursor);
    desk.say(`${words(hand.cursor)}, ${hand.path.length} corners.`);
    return true;
  }

  return { hand, lasso, clear };
}
