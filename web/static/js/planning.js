// @ts-check
/**
 * Keeps the plan in step with the document: a moment after it comes to rest the old plan is given up and a fresh one
 * asked for; what has been drawn stays until something newer comes.
 */
import { Refusal, patiently } from './api.js';
import { acknowledgedMarks, isHeld, keyOf } from './core/findings.js';

const REST_MS = 120;

/** @param {any} store @param {ReturnType<typeof import('./api.js').createApi>} api */
export function keepPlanned(store, api) {
  let waiting = 0;
  /** @type {AbortController} */
  let errand = new AbortController();
  /** @type {string|null} */
  let live = null;

  const tell = (/** @type {any} */ change) => store.dispatch({ type: 'plan', change });

  /** @param {any} plan @param {any} doc @param {AbortSignal} signal */
  async function draw(plan, doc, signal) {
    const view = await api.strokes(plan.id, signal);
    if (view?.meta.arts && !signal.aborted) store.dispatch({ type: 'view', view: { ...view, of: doc } });
  }

  /** @param {any} doc @param {AbortSignal} signal */
  async function run(doc, signal) {
    let plan = await api.plan(doc, signal);
    live = plan.id;
    tell({ id: plan.id, state: plan.state, stage: plan.stage ?? '', progress: plan.progress ?? 0, problems: [], detail: '' });
    let drawn = false;
    /** @type {Promise<void>} */
    let early = Promise.resolve();
    await api.follow(plan.id, signal, (next) => {
      plan = { ...plan, ...next };
      tell({ state: plan.state === 'done' ? 'running' : plan.state, stage: plan.stage ?? '', progress: plan.progress ?? 0 });
      if ((plan.stage === 'order' || plan.stage === 'proof') && !drawn) { drawn = true; early = draw(plan, doc, signal).catch(() => undefined); }
    });
    await early;
    plan = await api.planned(plan.id, signal);
    if (plan.state === 'done') await draw(plan, doc, signal);
    if (signal.aborted) return;
    live = null;
    tell({ busy: store.state.doc !== doc, state: plan.state, stage: plan.stage ?? '', progress: 1, report: plan.report ?? store.state.plan.report, of: plan.report ? doc : null, detail: plan.error?.message ?? '', problems: [] });
    if (plan.state === 'done') recall(plan.report.findings ?? []);
  }

  /** Warnings that the saved job holds as acknowledged are ticked when they first show; ticks that no longer fit fall. @param {any[]} findings */
  function recall(findings) {
    const { ticks, doc } = store.state;
    const kept = findings.filter((one) => one.severity === 'warning' && (ticks.includes(keyOf(one)) || isHeld(one, doc.acknowledged ?? []))).map(keyOf);
    const merged = [...new Set([...ticks, ...kept])];
    if (merged.length !== ticks.length) store.dispatch({ type: 'tick', ticks: merged });
  }

  function begin() {
    errand.abort();
    if (live) api.forget(live);
    live = null;
    errand = new AbortController();
    const { signal } = errand;
    const { doc } = store.state;
    const queued = () => tell({ busy: true, state: 'queued', stage: '', progress: 0, problems: [], detail: '' });
    patiently(() => run(doc, signal), signal, queued).catch((error) => {
      if (signal.aborted) return;
      live = null;
      const busy = store.state.doc !== doc; // a newer one is about to be asked for
      if (error instanceof Refusal) tell({ busy, state: 'refused', stage: '', problems: error.errors, detail: error.message });
      else tell({ busy, state: 'unreached', stage: '', problems: [], detail: 'The server does not answer. Is it still running?' });
    });
  }

  function ask() {
    if (!store.state.plan.busy) tell({ busy: true });
    clearTimeout(waiting);
    waiting = setTimeout(begin, REST_MS);
  }

  const stop = store.subscribe((/** @type {any} */ next, /** @type {any} */ before) => {
    if (next.doc !== before.doc) ask();
    if (next.ticks !== before.ticks) {
      const marks = acknowledgedMarks(next.plan.report?.findings ?? [], next.ticks);
      const held = next.doc.acknowledged ?? [];
      if (marks.join('\n') !== held.join('\n')) store.dispatch({ type: 'put', pointer: '/acknowledged', value: marks.length ? marks : undefined, silent: true });
    }
  });
  ask();
  return { again: ask, dispose() { stop(); clearTimeout(waiting); errand.abort(); if (live) api.forget(live); } };
}
