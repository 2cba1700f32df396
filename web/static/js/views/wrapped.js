// @ts-check
/** The blank in the round, drawn only when something has changed and never faster than the card keeps up. */
import { calm, chip, el, svg } from './dom.js';
import { momentAt } from '../core/arrays.js';
import { toolAt } from '../core/tools.js';
import { attachOrbit } from './round/hand.js';
import { createScene } from './round/scene.js';
import { litPlace } from './sheet/over.js';
import { PRESETS, between, fitDistance, look } from '../core/orbit.js';
import { extremes, radiusAt } from '../core/skin.js';
import { placementOf } from '../core/arranging.js';
import { lengthWords } from '../core/quantity.js';

const SLOW_MS = 24;
const FOOT_PX = 44;
const SETTLE_MS = 160;
const TURN_MS = 320;
const NAMES = { front: 'front', back: 'back', low: 'x− end', high: '+x end' };
const NO_KEEP_OUT = Object.freeze([]);

/** @param {HTMLElement} element @param {any} store */
export function mountWrapped(element, store) {
  const abort = new AbortController();
  const on = { signal: abort.signal };
  const chips = {
    shaded: chip('shaded', !store.state.show.depth, () => store.dispatch({ type: 'show', key: 'depth', value: false })),
    depth: chip('depth', store.state.show.depth, () => store.dispatch({ type: 'show', key: 'depth', value: true })),
    paths: chip('paths', store.state.show.paths, (value) => store.dispatch({ type: 'show', key: 'paths', value })),
  };
  const canvas = el('canvas', { tabindex: '0', role: 'application', 'aria-roledescription': 'view in the round', 'aria-label': 'Wrapped view of the blank', 'aria-describedby': 'round-how', class: 'hand' });
  const arms = ['x', '0°', '90°'].map((name) => { const text = svg('text'); text.textContent = name; return { line: svg('line'), text }; });
  const triad = svg('svg', { class: 'triad', viewBox: '-34 -34 68 68', 'aria-hidden': 'true' }, ...arms.flatMap(({ line, text }) => [line, text]));
  const presets = el('div', { class: 'tools', role: 'group', 'aria-label': 'Look from' }, .../** @type {(keyof typeof PRESETS)[]} */ (Object.keys(PRESETS)).map((name) => el('button', { type: 'button', onclick: () => from(name) }, NAMES[/** @type {'front'} */ (name)])));
  const notice = el('div', { class: 'notice', role: 'status', hidden: true });
  const deepest = el('span', {}, '');
  const legend = el('div', { class: 'legend', hidden: true }, el('span', {}, '0'), el('i', { 'aria-hidden': 'true' }), deepest);
  const stage = el('div', { class: 'stage' }, canvas, triad, legend, presets, notice);
  const sub = el('span', { class: 'sub' }, '');
  element.append(
    el('div', { class: 'cap' }, el('h2', { id: 'wrapped-title' }, 'Wrapped'), sub, el('span', { class: 'gap' }), el('div', { class: 'chips', role: 'group', 'aria-label': 'Shown in the round' }, ...Object.values(chips))),
    stage,
    el('p', { class: 'unseen', id: 'round-how' }, 'Arrow keys turn the view, with Shift finely; plus and minus zoom; Home puts it back.'));

  let [width, height, dpr] = [1, 1, 1];
  let body = { centre: 45, longMm: 90, most: 20 };
  /** @type {import('../core/orbit.js').Camera} */
  let camera = { azimuth: 0.1, elevation: 0.14, distance: 400, panX: 0, panY: 0 };
  let framed = true;
  /** The angle that faces the viewer at first: the chosen art's. */
  const facing = () => { const { doc, selected } = store.state; return ((placementOf(doc, selected).angle_deg ?? 0) * Math.PI) / 180 + 0.02; };
  /** The whole blank in sight, with room below for the buttons. */
  const home = () => {
    const distance = fitDistance((body.longMm * 1.24) * (height / Math.max(120, height - FOOT_PX)), body.most * 2.5, width / height);
    const start = { azimuth: facing(), elevation: 0.15, panX: 0, panY: 0, distance };
    return { ...start, panY: look(start, body.centre, width, height).mmPerPx * FOOT_PX * 0.35 };
  };
  const from = (/** @type {keyof typeof PRESETS} */ name) => {
    const end = Math.abs(PRESETS[name].elevation) > 1;
    glide({ ...home(), ...PRESETS[name], panY: end ? 0 : home().panY, distance: end ? body.longMm / 2 + fitDistance(body.most * 2.5, body.most * 2.5, width / height) : home().distance });
  };

  /** @type {WebGL2RenderingContext|null} */
  let gl = canvas.getContext('webgl2', { antialias: true, alpha: true, premultipliedAlpha: true, powerPreference: 'low-power' });
  /** @type {ReturnType<typeof createScene>|null} */
  let scene = null;
  let frame = 0;
  let poll = 0;
  /** @type {WebGLSync|null} */
  let fence = null;
  let asked = false;
  let begun = 0;
  let cost = 0;
  let moving = false;
  let settle = 0;
  const say = (/** @type {string} */ text) => { notice.textContent = text; notice.hidden = text === ''; };

  /** The blank's size, which the camera is set by. */
  function measure() {
    const { view } = store.state;
    if (!view) return;
    const { x } = view.skin;
    const next = { centre: (x[0] + x[x.length - 1]) / 2, longMm: x[x.length - 1] - x[0], most: extremes(view.skin).most };
    if (framed) camera = { ...camera, azimuth: facing() };
    if (next.centre === body.centre && next.longMm === body.longMm && next.most === body.most) return;
    body = next;
    camera = framed ? home() : { ...camera, distance: home().distance };
  }

  function draw() {
    const { view, show, doc, moment, ground, lit } = store.state;
    if (!gl || !scene || !view || gl.isContextLost()) return;
    const scale = dpr * (moving && cost > SLOW_MS ? 0.6 : 1);
    const [pw, ph] = [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
    if (canvas.width !== pw || canvas.height !== ph) { canvas.width = pw; canvas.height = ph; }
    const sight = look(camera, body.centre, width, height);
    const place = lit ? litPlace(store.state) : null;
    const r = place ? radiusAt(view.skin, place[0], place[1]) : 0;
    const now = view.moves && moment > 0 ? momentAt(view.moves, moment) : null;
    scene.draw({
      view, show, keepOuts: doc.blank.keep_out ?? NO_KEEP_OUT, now, tool: toolAt(store.state, now?.stroke ?? 0), sight, dark: ground === 'dark', size: [pw, ph], scale,
      spot: place ? [place[0], r * Math.cos(place[1]), r * Math.sin(place[1]), Math.max(1.2, body.longMm * 0.03)] : null,
    });
    drawTriad(sight);
  }

  /** @param {import('../core/orbit.js').Sight} sight */
  function drawTriad(sight) {
    [[1, 0, 0], [0, 1, 0], [0, 0, 1]].forEach((axis, i) => {
      const dot = (/** @type {number[]} */ b) => axis[0] * b[0] + axis[1] * b[1] + axis[2] * b[2];
      const [x, y, z] = [dot(sight.right) * 19, -dot(sight.up) * 19, dot(sight.back)];
      const { line, text } = arms[i];
      line.setAttribute('x2', x.toFixed(1));
      line.setAttribute('y2', y.toFixed(1));
      const size = Math.max(9, Math.hypot(x, y));
      text.setAttribute('x', (x * (1 + 9 / size)).toFixed(1));
      text.setAttribute('y', (y * (1 + 9 / size) + 3.5).toFixed(1));
      const dim = z < -0.25 ? '0.55' : '1';
      line.setAttribute('opacity', dim);
      text.setAttribute('opacity', Math.hypot(x, y) < 5 ? '0' : dim);
    });
  }

  // One picture in flight at a time: the next waits for the card, so a slow card is never buried.
  function run() {
    frame = 0;
    if (!gl || !scene || fence) return;
    asked = false;
    begun = performance.now();
    draw();
    fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    watch();
  }
  function watch() {
    poll = setTimeout(() => {
      if (!gl || !fence || gl.isContextLost()) { fence = null; return; }
      if (gl.clientWaitSync(fence, 0, 0) === gl.TIMEOUT_EXPIRED) { watch(); return; }
      gl.deleteSync(fence);
      fence = null;
      const took = performance.now() - begun;
      cost = cost ? cost * 0.7 + took * 0.3 : took;
      canvas.dataset.frames = String(Number(canvas.dataset.frames ?? 0) + 1);
      if (asked) frame ||= requestAnimationFrame(run);
    }, 4);
  }
  function ask() { asked = true; if (!fence) frame ||= requestAnimationFrame(run); }
  function askMoving() {
    moving = true;
    clearTimeout(settle);
    settle = setTimeout(() => { moving = false; ask(); }, SETTLE_MS);
    ask();
  }

  /** @param {import('../core/orbit.js').Camera} next */
  function setCamera(next) { camera = next; framed = false; askMoving(); }
  let gliding = 0;
  /** @param {import('../core/orbit.js').Camera} to */
  function glide(to) {
    cancelAnimationFrame(gliding);
    if (calm()) { setCamera(to); return; }
    const start = performance.now();
    const begin = camera;
    const step = (/** @type {number} */ t) => {
      const share = Math.min(1, Math.max(0, (t - start) / TURN_MS));
      setCamera(between(begin, to, share));
      if (share < 1) gliding = requestAnimationFrame(step);
    };
    gliding = requestAnimationFrame(step);
  }
  attachOrbit(canvas, { camera: () => camera, setCamera, home: () => glide(home()), halt: () => cancelAnimationFrame(gliding), mmPerPx: () => look(camera, body.centre, width, height).mmPerPx, longMm: () => body.longMm }, abort.signal);

  function begin() {
    if (!gl) { fallback(); return; }
    try { scene = createScene(gl); say(''); ask(); } catch { scene = null; say('The picture in the round could not be made on this device. The unwrapped sheet shows the same work.'); }
  }
  /** Without WebGL there is no picture in the round; everything else works. */
  function fallback() {
    canvas.hidden = true;
    triad.remove();
    presets.remove();
    for (const node of Object.values(chips)) node.setAttribute('disabled', '');
    say('This browser cannot draw in the round (WebGL 2 is off). Nothing is lost: place, check and run the job from the unwrapped sheet and the fields.');
  }
  canvas.addEventListener('webglcontextlost', (/** @type {Event} */ event) => {
    event.preventDefault();
    scene = null; fence = null; clearTimeout(poll);
    say('The graphics card let go of this picture. It comes back by itself; your work is not touched.');
  }, on);
  canvas.addEventListener('webglcontextrestored', begin, on);

  function resize() {
    const box = stage.getBoundingClientRect();
    [width, height, dpr] = [Math.max(1, box.width), Math.max(1, box.height), Math.min(2, devicePixelRatio || 1)];
    if (framed) camera = home();
    if (fence) ask();
    else { cancelAnimationFrame(frame); frame = 0; run(); }
  }
  function words() {
    const { view, unit } = store.state;
    sub.textContent = view?.carved ? 'as the proof carved it' : 'the blank';
    deepest.textContent = view?.carved ? `${lengthWords(view.carved.greatest, unit)} deep` : 'not carved yet';
  }

  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.show !== before.show) {
      chips.shaded.setAttribute('aria-pressed', String(!next.show.depth));
      chips.depth.setAttribute('aria-pressed', String(next.show.depth));
      chips.paths.setAttribute('aria-pressed', String(next.show.paths));
      legend.hidden = !next.show.depth;
      ask();
    }
    if (next.view !== before.view) { measure(); words(); ask(); }
    if (next.unit !== before.unit) words();
    if (next.ground !== before.ground || next.doc.blank !== before.doc.blank) ask();
    if (next.moment !== before.moment) askMoving();
    if (next.lit !== before.lit) {
      ask();
      const place = litPlace(next);
      if (place && gl) glide({ ...camera, azimuth: place[1], elevation: 0.1 });
    }
  });
  const watcher = new ResizeObserver(resize);
  words();
  measure();
  // The rest of the page is shown first: making the picture can take a slow card a while.
  let opening = requestAnimationFrame(() => { opening = setTimeout(() => { begin(); watcher.observe(stage); }, 30); });

  return {
    dispose() {
      stop(); abort.abort(); watcher.disconnect();
      cancelAnimationFrame(opening); clearTimeout(opening); cancelAnimationFrame(frame); cancelAnimationFrame(gliding); clearTimeout(poll); clearTimeout(settle);
      gl?.getExtension('WEBGL_lose_context')?.loseContext();
      gl = null; scene = null;
      element.replaceChildren();
    },
  };
}
