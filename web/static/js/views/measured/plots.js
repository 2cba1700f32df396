// @ts-check
/**
 * The plots by which a measured skin is judged. One place (station and angle) is read out at a time, wherever the pointer
 * or the arrow keys put it, and up to three stations are shown as sections.
 */
import { chip, el, inks, rgb } from '../dom.js';
import { panel } from './panel.js';
import { mapAxes, mapMarks, paint, stationMarks } from '../../core/measured/map.js';
import { profileAxes, profileMarks } from '../../core/measured/profile.js';
import { gradientOf, scaleOf } from '../../core/measured/ramp.js';
import { histogramMarks, residualAxes, residualMarks } from '../../core/measured/residuals.js';
import { mostTimes, sectionMarks } from '../../core/measured/section.js';
import { along, fieldOf, measuredOf, placeAt } from '../../core/measured/skin.js';
import { histogramTable, mapTable, profileTable, residualTable, sectionTable } from '../../core/measured/tables.js';
import { degreeWords, fine, fineWords, signed } from '../../core/measured/words.js';
import { lengthWords } from '../../core/quantity.js';
import { unitName } from '../../core/units.js';

const KEYS = 'Arrow keys move the place that is read out, with Shift ten steps, Home and End to the ends. Enter shows or removes the section there.';
const FIELDS = /** @type {const} */ (['deviation', 'radius', 'sigma']);
const TITLES = { deviation: 'Beside the round profile', radius: 'Radius', sigma: 'Sigma, one standard deviation' };
const MOST_SECTIONS = 3;

/** @param {HTMLElement} element @param {any} store */
export function mountPlots(element, store) {
  /** @type {import('../../core/measured/skin.js').MeasuredSkin|null} */
  let skin = null;
  /** @type {typeof FIELDS[number]} */
  let kind = 'deviation';
  let place = { x: 0, deg: 0 };
  /** @type {number[]} */
  let sections = [];
  let times = 1;

  const chips = FIELDS.map((name) => chip(name, name === kind, () => { kind = name; for (const [k, one] of chips.entries()) one.setAttribute('aria-pressed', String(FIELDS[k] === kind)); drawMap(); }));
  const profile = panel({ kind: 'profile', title: 'Profile', about: 'mean, least and greatest radius over x, the band of two sigma, the readings', keys: KEYS, tools: [key('mean-line', 'mean'), key('edge-line', 'least, greatest'), key('band', '± 2σ')] });
  const map = panel({ kind: 'map', title: 'Unrolled', about: 'the skin by station and angle', keys: KEYS, tools: [el('div', { class: 'chips', role: 'group', 'aria-label': 'What the map shows' }, ...chips)] });
  const section = panel({ kind: 'section', title: 'Sections', about: 'across the axis, seen from the far end, 0° up' });
  const residual = panel({ kind: 'residual', title: 'Residuals', about: 'reading minus skin over x', tools: [key('dots', 'used'), key('crosses', 'left out')] });
  const histogram = panel({ kind: 'histogram', title: 'Spread', about: 'how many readings lie how far from the skin, with the normal curve of the same spread' });
  const [low, high, ramp] = [el('span'), el('span'), el('i', { 'aria-hidden': 'true' })];
  const faces = [profile, map, section, residual, histogram];
  const legend = el('p', { class: 'ramp' }, el('span', { class: 'ramp-of' }), low, ramp, high, el('i', { class: 'unknown', 'aria-hidden': 'true' }), el('span', {}, 'not seen'));
  map.face.after(legend);
  const slider = el('input', { type: 'range', min: '1', max: '100', step: '1', value: '1', 'aria-label': 'Exaggeration of the sections', oninput: () => { times = Number(slider.value); drawSections(); } });
  const factor = el('output', { class: 'unit' });
  const chosen = el('ul', { class: 'chosen', 'aria-label': 'Sections shown' });
  section.face.after(el('div', { class: 'scrub times' }, factor, slider), chosen);
  const now = el('p', { class: 'now', id: 'plots-now', role: 'status' });
  const none = el('p', { class: 'hint empty' }, 'What is measured will be drawn here: the profile, sections, the unrolled skin and what is left of the readings.');
  const bare = el('p', { class: 'hint' }, 'This way of measuring leaves no readings to compare with.');
  const all = el('div', { class: 'plots', hidden: true }, now, profile.figure, map.figure, section.figure, residual.figure, histogram.figure, bare);
  element.append(none, all);

  const unit = () => store.state.unit;
  /** @param {string} shape @param {string} words */
  function key(shape, words) { return el('span', { class: 'key' }, el('i', { class: shape, 'aria-hidden': 'true' }), words); }

  function drawProfile() {
    if (!skin) return;
    const s = skin;
    profile.draw(profileMarks(s, profileAxes(s, ...sized(profile)), unit()));
    profile.table(() => profileTable(s, unit()));
  }

  function drawMap() {
    if (!skin) return;
    const s = skin;
    const axes = mapAxes(s, ...sized(map));
    const field = fieldOf(s, kind);
    const scale = scaleOf(field, kind, store.state.ground === 'dark');
    const dpr = Math.min(2, devicePixelRatio || 1);
    const [width, height] = [axes.box.right - axes.box.left, axes.box.bottom - axes.box.top].map((px) => Math.max(1, Math.round(px * dpr)));
    const hatch = /** @type {[number, number, number]} */ (rgb(inks().ink2).map((one) => Math.round(one * 255)));
    const { canvas } = map;
    Object.assign(canvas, { width, height, hidden: false });
    Object.assign(canvas.style, { left: `${axes.box.left}px`, top: `${axes.box.top}px`, width: `${axes.box.right - axes.box.left}px`, height: `${axes.box.bottom - axes.box.top}px` });
    canvas.getContext('2d')?.putImageData(new ImageData(/** @type {any} */ (paint(s, field, scale, { width, height, hatch })), width, height), 0, 0);
    map.draw(mapMarks(s, axes, unit()));
    map.table(() => mapTable(s, kind, unit()));
    const tell = (/** @type {number} */ mm) => (kind === 'deviation' ? signed(mm, unit()) : fine(mm, unit()));
    /** @type {any} */ (legend.firstChild).textContent = `${TITLES[kind]}, ${unitName(unit())}`;
    [low.textContent, high.textContent] = [tell(scale.low), `${scale.beyond ? '≥ ' : ''}${tell(scale.high)}`];
    ramp.style.background = gradientOf(scale);
  }

  function drawSections() {
    if (!skin) return;
    const s = skin;
    section.draw(sectionMarks(s, sections, { size: Math.min(...sized(section)), times, unit: unit() }));
    section.table(() => sectionTable(s, sections, unit()));
    factor.textContent = `× ${times}`;
    slider.style.setProperty('--done', `${((times - 1) / Math.max(1, Number(slider.max) - 1)) * 100}%`);
    chosen.replaceChildren(...sections.map((x, order) => el('li', {}, el('i', { class: `s${order + 1}`, 'aria-hidden': 'true' }), `${order + 1}: x ${lengthWords(x, unit())}, runout ${fineWords(along(s, s.runout, x), unit())}`,
      el('button', { type: 'button', class: 'drop', 'aria-label': `remove the section at x ${lengthWords(x, unit())}`, onclick: () => toggle(x) }, '×'))));
  }

  function drawResiduals() {
    if (!skin) return;
    const s = skin;
    if (residual.figure.hidden) return;
    const [width, height] = sized(histogram);
    residual.draw(residualMarks(s, residualAxes(s, ...sized(residual)), unit()));
    residual.table(() => residualTable(s, unit()));
    histogram.draw(histogramMarks(s, { width, height, unit: unit() }));
    histogram.table(() => histogramTable(s, unit()));
  }

  /** What follows the place that is read out. */
  function drawPlace() {
    if (!skin) return;
    const at = placeAt(skin, place.x, place.deg);
    const signedDeg = at.deg >= 180 ? at.deg - 360 : at.deg;
    const [p, m] = [profileAxes(skin, ...sized(profile)), mapAxes(skin, ...sized(map))];
    profile.over([...stationMarks(sections, p), ['line', { class: 'cursor', x1: p.px(at.x), x2: p.px(at.x), y1: p.box.top, y2: p.box.bottom }]]);
    map.over([...stationMarks(sections, m), ['line', { class: 'cursor', x1: m.px(at.x), x2: m.px(at.x), y1: m.box.top, y2: m.box.bottom }], ['line', { class: 'cursor', x1: m.box.left, x2: m.box.right, y1: m.py(signedDeg), y2: m.py(signedDeg) }]]);
    now.textContent = `x ${lengthWords(at.x, unit())}, ${degreeWords(at.deg)}: radius ${fineWords(at.radius, unit())} ± ${fine(2 * at.sigma, unit())} (2σ), ${signed(at.deviation, unit())} beside the round profile${at.known ? '' : '; not seen there, filled in'}`;
  }

  /** Sizes of the faces, read at once before anything is drawn: a read between two writes would lay the page out anew. @type {Map<any, [number, number]>} */
  const sizes = new Map();
  /** @param {any} one @returns {[number, number]} */
  const sized = (one) => /** @type {[number, number]} */ (sizes.get(one) ?? [0, 0]);
  function draw() {
    if (!skin) return;
    for (const one of faces) sizes.set(one, one.size());
    drawProfile(); drawMap(); drawSections(); drawResiduals(); drawPlace();
  }

  /** Shows or removes the section at a station; the oldest gives way. @param {number} x */
  function toggle(x) {
    if (!skin) return;
    const at = placeAt(skin, x, 0).x;
    const without = sections.filter((one) => placeAt(/** @type {any} */ (skin), one, 0).x !== at);
    sections = without.length < sections.length ? (without.length ? without : sections) : [...sections, at].slice(-MOST_SECTIONS);
    drawSections();
    drawPlace();
  }

  /** @param {any} one @param {(s: import('../../core/measured/skin.js').MeasuredSkin, width: number, height: number) => import('../../core/measured/axes.js').Axes} axesOf @param {boolean} both whether the face tells the angle, too */
  function listen(one, axesOf, both) {
    const { face } = one;
    const to = (/** @type {PointerEvent|MouseEvent} */ event) => {
      if (!skin) return;
      const axes = axesOf(skin, ...sized(one));
      const box = face.getBoundingClientRect();
      const x = Math.min(skin.x[skin.m - 1], Math.max(skin.x[0], axes.xAt(event.clientX - box.left)));
      place = { x, deg: both ? Math.min(180, Math.max(-180, axes.yAt(event.clientY - box.top))) : place.deg };
      drawPlace();
    };
    face.addEventListener('pointermove', to);
    face.addEventListener('click', (/** @type {MouseEvent} */ event) => { to(event); toggle(place.x); });
    face.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
      if (!skin || event.ctrlKey || event.metaKey || event.altKey) return;
      const at = placeAt(skin, place.x, place.deg);
      const by = event.shiftKey ? 10 : 1;
      const along_ = { ArrowLeft: -by, ArrowRight: by, Home: -skin.m, End: skin.m }[event.key];
      const around = { ArrowUp: -by, ArrowDown: by }[event.key];
      if (along_ !== undefined) place = { ...place, x: skin.x[Math.min(skin.m - 1, Math.max(0, at.i + along_))] };
      else if (around !== undefined) place = { ...place, deg: at.deg + (around * 360) / skin.n };
      else if (event.key === 'Enter' || event.key === ' ') toggle(place.x);
      else return;
      event.preventDefault();
      drawPlace();
    });
  }
  listen(profile, profileAxes, false);
  listen(map, mapAxes, true);
  let frame = 0;
  const seen = new ResizeObserver(() => {
    if (faces.every((one) => String(one.size()) === String(sizes.get(one)))) return; // drawn at this size already
    frame ||= requestAnimationFrame(() => { frame = 0; draw(); });
  });
  for (const one of faces) seen.observe(one.face);

  return {
    /** @param {any} answer null: nothing is shown */
    show(answer) {
      skin = answer ? measuredOf(answer) : null;
      none.hidden = Boolean(skin);
      all.hidden = !skin;
      if (!skin) return;
      const some = skin.readings.state.some((state) => state !== 'filled');
      for (const one of [residual, histogram]) one.figure.hidden = !some;
      bare.hidden = some;
      const [from, to] = [skin.x[0], skin.x[skin.m - 1]];
      sections = [...new Set([0.2, 0.5, 0.8].map((share) => placeAt(/** @type {any} */ (skin), from + share * (to - from), 0).x))];
      const most = mostTimes(skin);
      times = [50, 20, 10, 5, 2, 1].find((one) => one <= most / 2) ?? 1; // at most itself a round section looks pinched
      slider.max = String(most);
      slider.disabled = most === 1;
      slider.value = String(times);
      place = { x: (from + to) / 2, deg: 0 };
      draw();
    },
    /** Reads a place out. @param {{ x_mm?: number|null, angle_deg?: number|null }} where */
    go(where) {
      place = { x: where.x_mm ?? place.x, deg: where.angle_deg ?? place.deg };
      drawPlace();
      map.face.scrollIntoView({ block: 'nearest' });
    },
    render: draw,
    dispose() { seen.disconnect(); cancelAnimationFrame(frame); element.replaceChildren(); },
  };
}
