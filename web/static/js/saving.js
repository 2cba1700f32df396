// @ts-check
/** Stored jobs: opening, saving under a revision, and what to do when someone else saved first. */
import { Refusal } from './api.js';
import { emptyJob } from './core/document.js';

/** @param {any} store @param {ReturnType<typeof import('./api.js').createApi>} api */
export function createSaving(store, api) {
  const say = (/** @type {string} */ text) => store.dispatch({ type: 'say', text });
  /** @param {any} answer as stored @param {any} doc */
  const held = (answer, doc) => ({ id: answer.id, etag: answer.etag, revision: answer.revision, at: answer.saved_at, doc });

  /** @param {any} answer */
  function take(answer) {
    const doc = answer.job;
    store.dispatch({ type: 'load', doc, saved: held(answer, null), fresh: true });
    store.dispatch({ type: 'saved', saved: held(answer, store.state.doc) });
  }

  const saving = {
    /** @param {string} id */
    async open(id) { take(await api.job(id)); },
    fresh() { store.dispatch({ type: 'load', doc: emptyJob(), saved: null, fresh: true }); },
    /** @returns {Promise<'saved'|'conflict'|'refused'>} */
    async save() {
      const { doc, saved } = store.state;
      try {
        const answer = saved?.id ? await api.saveJob(saved.id, doc, saved.etag) : await api.addJob(doc);
        store.dispatch({ type: 'saved', saved: held(answer, doc) });
        say('Saved.');
        return 'saved';
      } catch (error) {
        if (error instanceof Refusal && error.status === 412) return 'conflict';
        say(error instanceof Refusal ? `Not saved: ${error.message}` : 'Not saved: the server does not answer.');
        return 'refused';
      }
    },
    /** Saves over what someone else saved. */
    async keepMine() {
      const theirs = await api.job(store.state.saved.id);
      store.dispatch({ type: 'saved', saved: { ...store.state.saved, etag: theirs.etag } });
      return saving.save();
    },
    async takeTheirs() { await saving.open(store.state.saved.id); say('The stored job is open.'); },
    /** @param {string} [name] */
    async saveCopy(name = `${store.state.doc.name} (copy)`) {
      store.dispatch({ type: 'saved', saved: null });
      store.dispatch({ type: 'put', pointer: '/name', value: name.slice(0, 80), label: 'name the copy' });
      return saving.save();
    },
    /** @param {string} id */
    async duplicate(id) {
      const { job } = await api.job(id);
      const answer = await api.addJob({ ...job, name: `${job.name} (copy)`.slice(0, 80) });
      await saving.open(answer.id);
    },
    /** @param {string} id */
    async remove(id) {
      const { etag } = await api.job(id);
      await api.dropJob(id, etag ?? '*');
      if (store.state.saved?.id === id) store.dispatch({ type: 'saved', saved: null });
    },
    list: () => api.jobs(),
  };
  return saving;
}
