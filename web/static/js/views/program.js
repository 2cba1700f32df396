// @ts-check
/** The program: a moment of it to look at, and the files to take to the machine. */
import { calm, el, handOver } from './dom.js';
import { momentAt } from '../core/arrays.js';
import { toolAt } from '../core/tools.js';
import { gateOf } from '../core/findings.js';
import { wrapDeg } from '../core/chart.js';
import { paperOf } from '../core/paper.js';
import { angleWords } from '../core/quantity.js';
import { formatClock, formatCount, formatLength } from '../core/units.js';

const RATE = 30;
const LINE = 'Eye protection on; no gloves near turning work; run the walk and the air run first. Follow local codes and the makers’ instructions.';

/** @type {Record<string, string>} */
const STAGES = { blank: 'reading the blank', artwork: 'laying the art', order: 'ordering the strokes', proof: 'proving' };

/** @param {HTMLElement} element @param {any} store @param {any} tools */
export function mountProgram(element, store, { api }) {
  const abort = new AbortController();
  const range = el('input', { type: 'range', min: '0', step: 'any', value: '0', 'aria-label': 'Moment of the program', oninput: () => store.dispatch({ type: 'moment', seconds: Number(range.value) }) });
  range.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    const by = /** @type {Record<string, number>} */ ({ ArrowLeft: -1, ArrowRight: 1, ArrowDown: -1, ArrowUp: 1, PageDown: -30, PageUp: 30 })[event.key];
    if (!by) return;
    event.preventDefault();
    store.dispatch({ type: 'moment', seconds: store.state.moment + by * (event.shiftKey ? 10 : 1) });
  });
  const play = el('button', { type: 'button', class: 'play', 'aria-label': 'Play the program' });
  const [clock, stroke, where] = ['fig', 'fig', 'fig where'].map((kind) => el('span', { class: kind }));
  const stage = el('span', { class: 'stale', role: 'status' });
  const code = el('code', {}, '–');
  const bar = el('progress', { max: '1', value: '0', 'aria-label': 'Progress of the plan', hidden: true });
  let timer = 0;
  let last = 0;
  const face = () => { play.textContent = timer ? '❙❙' : '▶'; play.setAttribute('aria-label', timer ? 'Pause' : 'Play the program'); };
  const halt = () => { cancelAnimationFrame(timer); timer = 0; face(); };
  const tick = (/** @type {number} */ now) => {
    const { moment, view } = store.state;
    const next = moment + Math.min(0.1, (now - last) / 1000) * RATE;
    last = now;
    if (!view || next >= view.seconds) { store.dispatch({ type: 'moment', seconds: view?.seconds ?? 0 }); halt(); return; }
    timer = requestAnimationFrame(tick);
    store.dispatch({ type: 'moment', seconds: next });
  };
  play.addEventListener('click', () => {
    if (timer) { halt(); return; }
    const { moment, view } = store.state;
    if (!view?.moves) return;
    if (calm()) { store.dispatch({ type: 'moment', seconds: moment + RATE }); return; }
    if (moment >= view.seconds) store.dispatch({ type: 'moment', seconds: 0 });
    last = performance.now();
    timer = requestAnimationFrame(tick);
    face();
  });
  face();

  /** A file or page the server makes. @param {string} text @param {(id: string) => string} url @param {string} kind @param {boolean} file */
  function way(text, url, kind, file) {
    const node = el('a', { class: `btn ${kind}`, role: 'link', target: file ? null : '_blank', rel: 'noopener', download: file ? '' : null }, text);
    node.addEventListener('click', (/** @type {Event} */ event) => { if (node.getAttribute('aria-disabled') === 'true') event.preventDefault(); });
    return { node, set(/** @type {string|null} */ id, /** @type {string} */ why) {
      node.setAttribute('aria-disabled', String(!id));
      node.tabIndex = 0;
      node.title = id ? '' : why;
      if (id) node.setAttribute('href', url(id)); else node.removeAttribute('href');
    } };
  }
  const ways = {
    sheet: way('Sheet', (id) => api.sheetUrl(id), '', false), paper: way('Paper', (id) => api.paperUrl(id, paperOf(navigator.language)), '', true),
    walk: way('Walk', (id) => api.programUrl(id, 'walk'), '', true),
    air: way('Air run', (id) => api.programUrl(id, 'air'), '', true), engrave: way('Engraving', (id) => api.programUrl(id, 'engrave'), 'main', true),
  };
  /** The check code of the engraving taken last: once the job gives another, that file is stale. @type {string|null} */
  let taken = null;
  ways.engrave.node.addEventListener('click', () => { if (opened().id) taken = store.state.plan.report.program.check_code; });
  const gateWords = el('p', { class: 'gate', role: 'status' });
  document.addEventListener('bench-rest', async (event) => {
    const { from, told } = /** @type {CustomEvent} */ (event).detail;
    const { id, why } = opened();
    if (!id) { told(why || 'Comes with the plan.'); return; }
    told('Planning the rest …');
    try {
      const got = await api.rest(id, from);
      handOver(got);
      told(`${got.name} is proven; look among the downloads.`);
    } catch (error) {
      told(error instanceof Error ? error.message : String(error));
    }
  }, { signal: abort.signal });

  /** Which plan's files may be had, and why the engraving may not. */
  function opened() {
    const { plan, doc, ticks } = store.state;
    const fresh = plan.state === 'done' && plan.of === doc;
    const gate = gateOf(plan.report?.findings ?? [], ticks);
    const any = fresh && gate.errors === 0 && Boolean(plan.report?.program) ? plan.id : null;
    const why = !doc.artwork.length ? 'Shut until there is artwork.' : plan.state === 'refused' ? 'Shut until the faults in the job are mended.' : !fresh ? 'Shut until the plan is done.'
      : gate.errors ? 'Shut: an error was found.' : !plan.report?.program ? 'Shut: there is nothing to cut.' : gate.open ? `Shut until ${gate.open === 1 ? 'one warning is' : `${gate.open} warnings are`} acknowledged.` : '';
    return { sheet: fresh ? plan.id : null, any, id: why ? null : any, why };
  }

  const bold = (/** @type {string} */ text) => el('b', {}, text);
  const scrub = () => {
    const { moment, view, unit } = store.state;
    const moves = view?.moves;
    const seconds = view?.seconds ?? 0;
    range.disabled = !moves;
    play.disabled = !moves;
    range.max = String(seconds || 1);
    range.value = String(moment);
    range.style.setProperty('--done', `${seconds ? (100 * moment) / seconds : 0}%`);
    if (!moves) { clock.replaceChildren('–'); stroke.replaceChildren(''); where.replaceChildren(''); return; }
    const at = momentAt(moves, moment);
    const mm = (/** @type {number} */ value) => formatLength(value * 1000, unit);
    const used = view.meta.tools?.length > 1 ? toolAt(store.state, at.stroke) : null;
    range.setAttribute('aria-valuetext', `${formatClock(moment)} of ${formatClock(seconds)}, stroke ${at.stroke}${used ? `, tool ${used.name || used.id}` : ''}`);
    clock.replaceChildren(bold(formatClock(moment)), ` of ${formatClock(seconds)}`);
    stroke.replaceChildren('stroke ', bold(formatCount(at.stroke)), ` of ${formatCount(moves.last)}${used ? `, ${used.name || used.id}` : ''}`);
    where.replaceChildren('x ', bold(mm(at.x)), ' θ ', bold(angleWords(wrapDeg((at.theta * 180) / Math.PI))), ' r ', bold(mm(at.r)));
  };
  const render = () => {
    const { plan, doc } = store.state;
    const { busy } = plan;
    stage.textContent = busy ? (plan.state === 'running' && STAGES[plan.stage]) || (plan.state === 'queued' ? 'waiting for its turn' : 'planning') : '';
    bar.hidden = !busy;
    bar.value = busy ? plan.progress : 0;
    element.classList.toggle('is-stale', busy);
    code.textContent = plan.of === doc ? plan.report?.program?.check_code ?? '–' : '–';
    const open = opened();
    ways.sheet.set(open.sheet, 'Comes with the plan.');
    const paper = doc.artwork.length ? open.sheet : null;
    ways.paper.set(paper, open.why || 'Comes with the plan.');
    if (paper) ways.paper.node.title = 'The art at its true size, to wrap round the blank before anything is cut';
    const given = plan.report?.program?.kinds ?? [];
    for (const kind of /** @type {('walk'|'air')[]} */ (['walk', 'air'])) {
      ways[kind].set(given.includes(kind) ? open.any : null, open.any && !given.includes(kind) ? 'The proof withholds it: see what was found.' : open.why || 'Comes with the plan.');
    }
    ways.engrave.set(open.id, open.why);
    const now = plan.of === doc ? plan.report?.program?.check_code : null;
    const old = taken && now && now !== taken ? el('span', { class: 'shut' }, `The engraving ${taken} taken before is stale: the job has changed. `) : '';
    gateWords.replaceChildren(old, open.why ? el('span', { class: 'shut' }, `Engraving: ${open.why.toLowerCase()}`) : el('span', {}, LINE), ' ',
      el('button', { type: 'button', class: 'link', onclick: () => { store.dispatch({ type: 'open', value: 'program', keep: true }); document.getElementById('op-program-button')?.scrollIntoView({ block: 'start' }); } }, 'cautions'));
  };
  element.append(
    el('h2', { class: 'title', id: 'program-title' }, 'Program', stage, bar, el('span', { class: 'code' }, 'check code ', code)),
    el('div', { class: 'scrub' }, play, range), el('p', { class: 'figs' }, clock, stroke, where),
    el('div', { class: 'go' }, ways.sheet.node, ways.paper.node, ways.walk.node, ways.air.node, ways.engrave.node), gateWords);
  render();
  scrub();
  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.plan !== before.plan || next.doc !== before.doc || next.ticks !== before.ticks) render();
    if (next.moment !== before.moment || next.view !== before.view || next.unit !== before.unit) scrub();
  });
  return { dispose() { stop(); abort.abort(); halt(); element.replaceChildren(); } };
}
