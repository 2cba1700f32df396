// @ts-check
/** The dialogs about stored jobs: the list, and what to do when the stored one has moved on. */
import { el } from '../views/dom.js';

/** @param {string} title @param {...Node} content @returns {HTMLDialogElement} shown; it removes itself when closed */
function dialog(title, ...content) {
  const box = el('dialog', { class: 'box', 'aria-labelledby': 'box-title' },
    el('div', { class: 'box-head' }, el('h2', { id: 'box-title' }, title), el('button', { type: 'button', class: 'drop', 'aria-label': 'close', onclick: () => box.close() }, '×')), ...content);
  box.addEventListener('close', () => box.remove());
  document.body.append(box);
  box.showModal();
  return box;
}

/** @param {any} stamp */
function when(stamp) {
  const date = new Date(typeof stamp === 'number' ? stamp * 1000 : stamp);
  return Number.isNaN(date.getTime()) ? '' : date.toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' });
}

/** @param {any} store @param {any} tools */
export async function openJobs(store, { saving }) {
  const list = el('ul', { class: 'jobs' }, el('li', { class: 'hint' }, 'Reading the list …'));
  const unsaved = () => store.state.saved?.doc !== store.state.doc && store.state.doc.artwork.length > 0;
  const note = el('p', { class: 'why' }, unsaved() ? 'The job on the bench has changes that are not saved; opening another gives them up.' : '');
  const run = (/** @type {() => Promise<unknown>|void} */ act, stay = false) => async () => {
    try { await act(); if (stay) await fill(); else box.close(); } catch (error) { note.textContent = error instanceof Error ? error.message : 'That did not work.'; }
  };
  const box = dialog('Jobs', note, list, el('div', { class: 'row' }, el('button', { type: 'button', class: 'btn', onclick: run(() => saving.fresh()) }, 'New job')));
  async function fill() {
    const jobs = await saving.list();
    list.replaceChildren(...(jobs.length ? jobs.map((/** @type {any} */ job) => el('li', {},
      el('button', { type: 'button', class: 'name', 'aria-current': job.id === store.state.saved?.id ? 'true' : null, onclick: run(() => saving.open(job.id)) }, el('b', {}, job.name || 'no name'), el('span', {}, `${when(job.saved_at)} · revision ${job.revision}`)),
      el('button', { type: 'button', class: 'btn small', 'aria-label': `duplicate ${job.name}`, onclick: run(() => saving.duplicate(job.id)) }, 'Duplicate'),
      remover(job, run(() => saving.remove(job.id), true)))) : [el('li', { class: 'hint' }, 'No job is stored yet.')]));
  }
  await fill().catch((error) => { note.textContent = error instanceof Error ? error.message : 'The list could not be read.'; list.replaceChildren(); });
}

/** Asks once more before it removes. @param {any} job @param {() => void} act */
function remover(job, act) {
  const button = el('button', { type: 'button', class: 'btn small', 'aria-label': `delete ${job.name}` }, 'Delete');
  button.addEventListener('click', () => {
    if (button.dataset.sure) { act(); return; }
    button.dataset.sure = 'yes';
    button.textContent = 'Delete for good';
  });
  return button;
}

/** @param {any} saving */
export function settleConflict(saving) {
  const act = (/** @type {string} */ text, /** @type {() => Promise<unknown>} */ then) => el('button', { type: 'button', class: 'btn', onclick: async () => { box.close(); await then(); } }, text);
  const box = dialog('Someone else saved this job meanwhile',
    el('p', {}, 'The stored job is newer than the one that was opened here. Nothing has been lost: every earlier save is kept as a revision.'),
    el('div', { class: 'row' }, act('Keep mine', () => saving.keepMine()), act('Take theirs', () => saving.takeTheirs()), act('Save mine as a copy', () => saving.saveCopy())));
}
