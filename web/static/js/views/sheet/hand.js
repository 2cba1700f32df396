// @ts-check
/** The hand on the sheet: pointers and keys that move, size and turn the chosen piece, and pan and zoom. */
import { TURN, inside, wrapDeg, zoomAt } from '../../core/chart.js';
import { placementOf } from '../../core/arranging.js';
import { handlesOf } from './over.js';

export const ZOOM = /** @type {[number, number]} */ ([0.4, 400]);
const LEAST_MM = 0.5;

/** @typedef {{ kind: 'move'|'size'|'turn'|'pan', id: number, from: [number, number], index: number, root: number, placement: any, piece: any, view: any, corner: number, turns: number, began: boolean }} Grip */
/** @typedef {{ desk: () => import('./ground.js').Desk, setView: (view: any) => void, zoomBy: (factor: number) => void, fit: () => void, redraw: () => void }} Sheet */

const to = (/** @type {number} */ value, /** @type {number} */ step) => Number((Math.round(value / step) * step).toFixed(4));

/** What a drag makes of a placement. @param {import('./ground.js').Desk} desk @param {Grip} held @param {[number, number]} p @param {{ altKey: boolean, shiftKey: boolean }} keys */
export function dragged({ chart, view }, held, p, keys) {
  const from = held.placement;
  const [dx, dy] = [p[0] - held.from[0], p[1] - held.from[1]];
  const snap = keys.altKey ? 0.01 : 0.1;
  if (held.kind === 'move') {
    const lockX = keys.shiftKey && Math.abs(dx) > Math.abs(dy);
    const lockTheta = keys.shiftKey && !lockX;
    return {
      ...(lockX ? {} : { x_mm: to(from.x_mm - dy / view.scale, snap) }),
      ...(lockTheta ? {} : { angle_deg: wrapDeg(to((from.angle_deg ?? 0) + ((dx / view.scale / chart.refMm) * 180) / Math.PI, snap)) }),
    };
  }
  const h = handlesOf({ ...held.piece.desk, view }, held.piece.piece, held.turns);
  const [cx, cy] = h.middle;
  if (held.kind === 'turn') {
    const angle = (/** @type {[number, number]} */ q) => Math.atan2(cy - q[1], q[0] - cx);
    const by = (((angle(p) - angle(held.from)) * 180) / Math.PI) * (held.piece.piece.mirrored ? -1 : 1);
    return { turn_deg: wrapDeg(to((from.turn_deg ?? 0) + by, keys.shiftKey ? 15 : keys.altKey ? 0.1 : 1)) };
  }
  const [ax, ay] = [held.from[0] - cx, held.from[1] - cy];
  const grown = Math.max(0.02, 1 + (dx * ax + dy * ay) / Math.max(1, ax * ax + ay * ay));
  const { width, height } = held.piece.piece.carry;
  const change = {};
  if (from.width_mm || !from.height_mm) Object.assign(change, { width_mm: Math.max(LEAST_MM, to((from.width_mm ?? width) * grown, snap)) });
  if (from.height_mm) Object.assign(change, { height_mm: Math.max(LEAST_MM, to((from.height_mm ?? height) * grown, snap)) });
  return change;
}

/** @param {HTMLCanvasElement} over @param {any} store @param {Sheet} sheet @param {AbortSignal} signal */
export function attachHand(over, store, sheet, signal) {
  const on = { signal };
  /** @type {Grip|null} */
  let grip = null;
  let spaced = false;
  let hovered = false;
  let burst = 0;
  /** @type {Map<number, [number, number]>} */
  const fingers = new Map();
  /** @type {{ view: any, middle: [number, number], gap: number }|null} */
  let pinch = null;
  const place = (/** @type {PointerEvent|WheelEvent} */ event) => { const box = over.getBoundingClientRect(); return /** @type {[number, number]} */ ([event.clientX - box.left, event.clientY - box.top]); };

  /** @param {[number, number]} p @param {number} reach @returns {{ kind: Grip['kind'], index: number, root: number, corner: number, turns: number, piece: any }} */
  function under(p, reach) {
    const desk = sheet.desk();
    const { selected } = store.state;
    const order = [...desk.pieces].sort((a, b) => Number(b.index === selected) - Number(a.index === selected));
    for (const piece of order) {
      for (const turns of piece.turns) {
        const h = handlesOf(desk, piece, turns);
        const hit = { index: piece.index, root: piece.root, turns, corner: 0, piece: { desk: { ...desk }, piece } };
        if (piece.index === selected) {
          if (piece.grips.turn && Math.hypot(p[0] - h.knob[0], p[1] - h.knob[1]) <= reach) return { ...hit, kind: 'turn' };
          const corner = !piece.grips.size ? -1 : h.corners.findIndex((q) => Math.hypot(p[0] - q[0], p[1] - q[1]) <= reach);
          if (corner >= 0) return { ...hit, kind: 'size', corner };
        }
        if (inside(h.outline, p[0], p[1])) return { ...hit, kind: 'move' };
      }
    }
    return { kind: 'pan', index: -1, root: -1, corner: 0, turns: 0, piece: null };
  }

  function release(/** @type {boolean} */ keep) {
    if (!grip) return;
    if (grip.began) { if (keep) store.commit(); else store.cancel(); }
    grip = null;
    over.classList.remove('held');
    sheet.redraw();
  }
  const pinchNow = () => {
    const [a, b] = [...fingers.values()];
    return { middle: /** @type {[number, number]} */ ([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]), gap: Math.max(10, Math.hypot(a[0] - b[0], a[1] - b[1])) };
  };

  over.addEventListener('pointerdown', (event) => {
    if (event.button > 1) return;
    event.preventDefault();
    over.focus({ preventScroll: true });
    over.setPointerCapture(event.pointerId);
    const p = place(event);
    fingers.set(event.pointerId, p);
    if (fingers.size === 2) { release(false); pinch = { view: sheet.desk().view, ...pinchNow() }; return; }
    if (fingers.size > 2 || grip) return;
    const hit = spaced || event.button === 1 ? { kind: /** @type {const} */ ('pan'), index: -1, root: -1, corner: 0, turns: 0, piece: null } : under(p, event.pointerType === 'touch' ? 22 : 12);
    grip = { ...hit, id: event.pointerId, from: p, placement: store.state.doc.artwork[hit.root]?.placement, view: sheet.desk().view, began: false };
    over.classList.add('held');
    if (grip.kind === 'pan') return;
    if (store.state.selected !== grip.index) store.dispatch({ type: 'select', index: grip.index });
    store.begin({ move: 'move the art', size: 'size the art', turn: 'turn the art' }[grip.kind]);
    grip.began = true;
  }, on);

  over.addEventListener('pointermove', (event) => {
    const p = place(event);
    if (fingers.has(event.pointerId)) fingers.set(event.pointerId, p);
    if (pinch && fingers.size === 2) {
      const { middle, gap } = pinchNow();
      const zoomed = zoomAt(pinch.view, gap / pinch.gap, pinch.middle[0], pinch.middle[1], ZOOM);
      sheet.setView({ ...zoomed, left: zoomed.left + middle[0] - pinch.middle[0], top: zoomed.top + middle[1] - pinch.middle[1] });
      return;
    }
    if (!grip) {
      const { kind } = under(p, 12);
      over.style.cursor = spaced || kind === 'pan' ? 'grab' : kind === 'move' ? 'move' : kind === 'turn' ? 'crosshair' : 'nwse-resize';
      return;
    }
    if (grip.id !== event.pointerId) return;
    if (grip.kind === 'pan') { sheet.setView({ ...grip.view, left: grip.view.left + p[0] - grip.from[0], top: grip.view.top + p[1] - grip.from[1] }); return; }
    store.dispatch({ type: 'place', index: grip.root, change: dragged(sheet.desk(), grip, p, event) });
  }, on);

  const lift = (/** @type {boolean} */ keep) => (/** @type {PointerEvent} */ event) => {
    fingers.delete(event.pointerId);
    if (fingers.size < 2) pinch = null;
    if (grip?.id === event.pointerId) release(keep);
  };
  over.addEventListener('pointerup', lift(true), on);
  over.addEventListener('pointercancel', lift(false), on);
  over.addEventListener('pointerenter', () => { hovered = true; }, on);
  over.addEventListener('pointerleave', () => { hovered = false; }, on);
  over.addEventListener('contextmenu', (event) => { if (grip) event.preventDefault(); }, on);
  over.addEventListener('wheel', (event) => {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 24 : 1;
    const { view } = sheet.desk();
    if (event.shiftKey) sheet.setView({ ...view, left: view.left - event.deltaY * lines });
    else sheet.setView(zoomAt(view, Math.exp(-event.deltaY * lines * (event.ctrlKey ? 0.01 : 0.0016)), ...place(event), ZOOM));
  }, { ...on, passive: false });
  document.addEventListener('keydown', (event) => {
    if (event.code !== 'Space' || !(hovered || document.activeElement === over)) return;
    if (event.target instanceof HTMLElement && event.target.closest('input, button, textarea, select, a, summary')) return;
    event.preventDefault();
    spaced = true;
    over.style.cursor = 'grab';
  }, on);
  document.addEventListener('keyup', (event) => { if (event.code === 'Space') { spaced = false; over.style.cursor = ''; } }, on);
  addEventListener('blur', () => { spaced = false; }, on);

  over.addEventListener('keydown', (event) => {
    if (event.key === 'Escape' && grip) { release(false); return; }
    if (event.ctrlKey || event.metaKey) return;
    if (event.key === '+' || event.key === '=') sheet.zoomBy(1.25);
    else if (event.key === '-') sheet.zoomBy(0.8);
    else if (event.key === 'Home') sheet.fit();
    else if (event.code === 'KeyN' && store.state.doc.artwork.length > 1) store.dispatch({ type: 'select', index: (store.state.selected + 1) % store.state.doc.artwork.length });
    else if (!nudge(event)) return;
    event.preventDefault();
  }, on);
  over.addEventListener('keyup', () => { burst += 1; }, on);

  /** @param {KeyboardEvent} event @returns {boolean} whether the key meant something */
  function nudge(event) {
    const { selected, doc } = store.state;
    const piece = sheet.desk().pieces.find((one) => one.index === selected);
    if (!piece) return false;
    const placement = placementOf(doc, selected);
    const mm = event.shiftKey ? 1 : event.altKey ? 0.01 : 0.1;
    const deg = (mm / Math.max(0.1, piece.facts.r0_mm) / TURN) * 360;
    const turn = event.shiftKey ? 15 : event.altKey ? 0.1 : 1;
    const exact = (/** @type {number} */ value) => Number(value.toFixed(4));
    const sized = (/** @type {number} */ by) => (placement.width_mm || !placement.height_mm ? { width_mm: Math.max(LEAST_MM, exact((placement.width_mm ?? piece.carry.width) + by)) } : { height_mm: Math.max(LEAST_MM, exact(placement.height_mm + by)) });
    /** @type {Record<string, object>} */
    const moves = {
      ArrowUp: { x_mm: exact(placement.x_mm + mm) }, ArrowDown: { x_mm: exact(placement.x_mm - mm) },
      ArrowRight: { angle_deg: wrapDeg(exact((placement.angle_deg ?? 0) + deg)) }, ArrowLeft: { angle_deg: wrapDeg(exact((placement.angle_deg ?? 0) - deg)) },
      BracketLeft: { turn_deg: wrapDeg(exact((placement.turn_deg ?? 0) + turn)) }, BracketRight: { turn_deg: wrapDeg(exact((placement.turn_deg ?? 0) - turn)) },
      Comma: sized(-mm), Period: sized(mm),
    };
    const change = moves[event.code];
    if (!change || (event.code.startsWith('B') && !piece.grips.turn) || (!/^[AB]/.test(event.code) && !piece.grips.size)) return false;
    store.dispatch({ type: 'place', index: piece.root, change, label: event.code.startsWith('Arrow') ? 'move the art' : event.code.startsWith('B') ? 'turn the art' : 'size the art', merge: `${event.code}${burst}` });
    return true;
  }

  return { held: () => (grip && grip.kind !== 'pan' ? grip.kind : null) };
}
