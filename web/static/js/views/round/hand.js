// @ts-check
/** The hand on the round view: orbit, slide and zoom by pointer, touch and keys. */
import { dolly, orbit, slide } from '../../core/orbit.js';

/**
 * @param {HTMLCanvasElement} canvas
 * @param {{ camera: () => import('../../core/orbit.js').Camera, setCamera: (next: import('../../core/orbit.js').Camera) => void, home: () => void, halt: () => void, mmPerPx: () => number, longMm: () => number }} round
 * @param {AbortSignal} signal
 */
export function attachOrbit(canvas, round, signal) {
  const on = { signal };
  /** @type {Map<number, [number, number]>} */
  const fingers = new Map();
  /** @type {{ gap: number, middle: [number, number] }|null} */
  let pinch = null;
  const two = () => { const [a, b] = [...fingers.values()]; return { gap: Math.max(10, Math.hypot(a[0] - b[0], a[1] - b[1])), middle: /** @type {[number, number]} */ ([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]) }; };

  canvas.addEventListener('pointerdown', (event) => {
    event.preventDefault();
    canvas.focus({ preventScroll: true });
    canvas.setPointerCapture(event.pointerId);
    round.halt();
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    pinch = fingers.size === 2 ? two() : null;
    canvas.classList.add('held');
  }, on);
  canvas.addEventListener('pointermove', (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    const k = round.mmPerPx();
    const long = round.longMm();
    if (pinch && fingers.size === 2) {
      const next = two();
      round.setCamera(slide(dolly(round.camera(), next.gap / pinch.gap, long), (next.middle[0] - pinch.middle[0]) * k, -(next.middle[1] - pinch.middle[1]) * k, long));
      pinch = next;
      return;
    }
    const [dx, dy] = [event.clientX - before[0], event.clientY - before[1]];
    if (event.shiftKey || event.buttons & 6) round.setCamera(slide(round.camera(), dx * k, -dy * k, long));
    else round.setCamera(orbit(round.camera(), -dx * 0.009, dy * 0.009));
  }, on);
  const lift = (/** @type {PointerEvent} */ event) => { fingers.delete(event.pointerId); if (fingers.size < 2) pinch = null; if (!fingers.size) canvas.classList.remove('held'); };
  canvas.addEventListener('pointerup', lift, on);
  canvas.addEventListener('pointercancel', lift, on);
  canvas.addEventListener('contextmenu', (event) => event.preventDefault(), on);
  canvas.addEventListener('wheel', (event) => {
    event.preventDefault();
    round.setCamera(dolly(round.camera(), Math.exp(-event.deltaY * (event.deltaMode === 1 ? 24 : 1) * (event.ctrlKey ? 0.01 : 0.0014)), round.longMm()));
  }, { ...on, passive: false });
  canvas.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const by = ((event.shiftKey ? 1 : 7.5) * Math.PI) / 180;
    const turns = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, by], ArrowDown: [0, -by] })[event.key];
    if (turns) round.setCamera(orbit(round.camera(), turns[0], turns[1]));
    else if (event.key === '+' || event.key === '=') round.setCamera(dolly(round.camera(), 1.15, round.longMm()));
    else if (event.key === '-') round.setCamera(dolly(round.camera(), 1 / 1.15, round.longMm()));
    else if (event.key === 'Home') round.home();
    else return;
    event.preventDefault();
  }, on);
}
