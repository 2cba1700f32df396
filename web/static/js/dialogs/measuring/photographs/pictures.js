// @ts-check
/** Where the pictures come from: many files at once, frames of a clip, or the phone. Each fills the next place. */
import { patiently } from '../../../api.js';
import { el } from '../../../views/dom.js';
import { clipTimes, inNameOrder } from '../../../core/photographs/asking.js';
import { MOST_PHOTOS } from '../../../core/photographs/project.js';
import { openClip } from './clip.js';

/**
 * @typedef {{ store: any, bench: import('../ways.js').MeasuringBench, blobs: Map<string, Blob> }} Room
 */

/** Stores files one after another and puts each in its place. @param {Room} room @param {File[]} files @param {number} first @param {AbortSignal} signal */
export async function takeAll({ store, bench, blobs }, files, first, signal) {
  for (const [i, file] of files.entries()) {
    bench.tell(`Storing picture ${i + 1} of ${files.length} …`);
    const { id } = await patiently(() => bench.upload(file), signal);
    if (signal.aborted) return;
    blobs.set(id, file);
    store.dispatch({ type: 'picture', index: first + i, asset: id, name: file.name.slice(0, 80), label: `picture ${first + i + 1}` });
  }
  bench.tell(`${files.length === 1 ? 'The picture is' : `${files.length} pictures are`} stored.`);
}

/** Runs work, tells what went wrong. @param {import('../ways.js').MeasuringBench} bench @param {() => Promise<void>} work */
export async function guarded(bench, work) {
  try { await work(); } catch (error) {
    if (!(error instanceof DOMException && error.name === 'AbortError')) bench.tell(error instanceof Error ? error.message : 'That did not work.');
  }
}

/** @param {Room} room @param {AbortSignal} signal */
export function picturesPart(room, signal) {
  const { store, bench } = room;
  const files = el('input', { type: 'file', accept: 'image/jpeg,image/png', multiple: true, class: 'unseen', tabindex: '-1', 'aria-label': 'Pictures, in name order' });
  const clip = el('input', { type: 'file', accept: 'video/*', class: 'unseen', tabindex: '-1', 'aria-label': 'Clip of one turn' });
  files.addEventListener('change', () => {
    const chosen = inNameOrder([...files.files]);
    files.value = '';
    if (!chosen.length) return;
    if (chosen.length > MOST_PHOTOS) { bench.tell(`At most ${MOST_PHOTOS} pictures are taken; ${chosen.length} were chosen.`); return; }
    if (chosen.length !== store.state.doc.setup.count) store.dispatch({ type: 'count', value: chosen.length, label: 'number of photographs' });
    guarded(bench, () => takeAll(room, chosen, 0, signal));
  });
  clip.addEventListener('change', () => {
    const [file] = clip.files;
    clip.value = '';
    if (file) guarded(bench, () => takeClip(room, file, signal));
  });
  const button = (/** @type {string} */ text, /** @type {() => void} */ press) => el('button', { type: 'button', class: 'btn small', onclick: press }, text);
  return el('div', { class: 'part' }, files, clip,
    el('div', { class: 'row' }, button('Choose pictures', () => files.click()), button('Frames of a clip', () => clip.click())),
    el('p', { class: 'hint' }, 'Pictures are taken in name order, JPEG or PNG; their number sets the number of photographs. A clip must show one whole turn at even speed: its frames are taken at even times.'));
}

/** @param {Room} room @param {File} file @param {AbortSignal} signal */
async function takeClip(room, file, signal) {
  const opened = await openClip(file, signal);
  try {
    const count = room.store.state.doc.setup.count;
    for (const [i, at_s] of clipTimes(0, opened.seconds, count).entries()) {
      room.bench.tell(`Frame ${i + 1} of ${count} …`);
      const frame = await opened.frame(at_s, `${file.name.replace(/\.[^.]*$/, '')} ${at_s.toFixed(2)} s.jpg`);
      const { id } = await patiently(() => room.bench.upload(frame), signal);
      room.blobs.set(id, frame);
      room.store.dispatch({ type: 'picture', index: i, asset: id, name: frame.name.slice(0, 80), label: `frame ${i + 1}` });
    }
    room.bench.tell(`${count} frames are stored.`);
  } finally { opened.close(); }
}
