// @ts-check
/** Wires the store, the server and the views; holds no knowledge of any of them. */
import { createApi } from './api.js';
import { apply } from './core/commands.js';
import { emptyJob } from './core/document.js';
import { createStore } from './core/store.js';
import { createMeasuring } from './measuring.js';
import { keepPlanned } from './planning.js';
import { createSaving } from './saving.js';
import { mountCard } from './views/card.js';
import { mountFindings } from './views/findings.js';
import { mountHead } from './views/head.js';
import { mountProgram } from './views/program.js';
import { mountUnwrapped } from './views/unwrapped.js';
import { mountWrapped } from './views/wrapped.js';

const initial = JSON.parse(document.getElementById('initial')?.textContent ?? '{}');
const api = createApi(initial.api ?? '/api');
const dark = matchMedia('(prefers-color-scheme: dark)').matches;
const store = createStore({
  doc: emptyJob(), saved: null, selected: 0, assets: {}, library: { tools: [], machines: [], materials: [], faces: [] },
  plan: { id: null, busy: true, state: 'idle', stage: '', progress: 0, report: null, problems: [], detail: '', of: null },
  view: null, ticks: [], moment: 0, lit: null, open: 'artwork', unit: 'mm', ground: dark ? 'dark' : 'light', said: '',
  show: { art: true, strokes: true, stretch: false, proof: false, depth: false, paths: false },
}, apply);
const saving = createSaving(store, api);

/** @param {string} name @returns {HTMLElement} */
const place = (name) => /** @type {HTMLElement} */ (document.querySelector(`[data-view="${name}"]`));
const face = () => {
  document.documentElement.dataset.ground = store.state.ground;
  document.title = `${store.state.doc.name} · Roundwright`;
  const title = document.querySelector('h1');
  if (title) title.textContent = store.state.doc.name;
};
face();
store.subscribe((next, before) => { if (next.ground !== before.ground || next.doc.name !== before.doc.name) face(); });

const tools = { api, saving, measuring: createMeasuring(initial.api ?? '/api'), version: initial.version ?? '' };
const mounted = [mountHead, mountCard, mountUnwrapped, mountWrapped, mountFindings, mountProgram];
const names = ['head', 'card', 'unwrapped', 'wrapped', 'findings', 'program'];
const views = mounted.map((mount, i) => mount(place(names[i]), store, tools));

/** Learns of what kind the job's own files are. */
const asked = new Set();
const ASSET = /^[0-9a-f]{64}$/;
function learnAssets() {
  const named = store.state.doc.artwork.flatMap((/** @type {any} */ item) => [item.asset, item.text?.font]);
  for (const asset of named.filter((/** @type {any} */ id) => ASSET.test(id ?? ''))) {
    if (store.state.assets[asset] || asked.has(asset)) continue;
    asked.add(asset);
    api.asset(asset).then((facts) => store.dispatch({ type: 'asset', facts }), () => undefined);
  }
}
store.subscribe((next, before) => { if (next.doc.artwork !== before.doc.artwork) learnAssets(); });

async function start() {
  if (initial.open_job) {
    try { await saving.open(initial.open_job); } catch { store.dispatch({ type: 'say', text: 'The job to open is not there; here is a new one.' }); }
  }
  for (const what of /** @type {const} */ (['tools', 'machines', 'materials'])) {
    api.library(what).then((list) => store.dispatch({ type: 'library', change: { [what]: list } }), () => undefined);
  }
  api.faces().then((list) => store.dispatch({ type: 'library', change: { faces: list } }), () => undefined);
  return keepPlanned(store, api);
}
const planner = start();

document.addEventListener('keydown', (event) => {
  if (!(event.ctrlKey || event.metaKey)) return;
  const key = event.key.toLowerCase();
  if (key === 's') { event.preventDefault(); document.dispatchEvent(new CustomEvent('bench-save')); return; }
  if (key !== 'z' && key !== 'y') return;
  if (event.target instanceof HTMLElement && event.target.matches('input[type="text"], textarea')) return;
  event.preventDefault();
  if (event.shiftKey || key === 'y') store.redo(); else store.undo();
});
addEventListener('beforeunload', (event) => { if (store.state.saved && store.state.saved.doc !== store.state.doc) event.preventDefault(); });
addEventListener('pagehide', (event) => { if (!event.persisted) { for (const view of views) view.dispose(); planner.then((one) => one.dispose()); } });
