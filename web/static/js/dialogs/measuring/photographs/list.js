// @ts-check
/** The photographs as cards, each with its picture in small, its angle and its state. */
import { el } from '../../../views/dom.js';
import { pictureOf } from './server.js';
import { wordOf } from './finding.js';

const SMALL = 88;

/** @param {import('./pictures.js').Room & { small: Map<string, ImageBitmap> }} room @param {ReturnType<typeof import('./finding.js').createFinding>} finding @param {AbortSignal} signal */
export function mountList({ store, blobs, small }, finding, signal) {
  const node = el('ol', { class: 'photos', 'aria-label': 'Photographs' });
  /** @type {{ item: HTMLElement, button: any, canvas: any, name: HTMLElement, word: HTMLElement, asset: string|null }[]} */
  let cards = [];
  let line = Promise.resolve();

  /** @param {number} i */
  function card(i) {
    const canvas = el('canvas', { width: String(SMALL), height: String(Math.round(SMALL * 0.75)), 'aria-hidden': 'true' });
    const name = el('b');
    const word = el('span');
    const button = el('button', { type: 'button', class: 'photo', onclick: () => store.dispatch({ type: 'select', index: i }) }, canvas, name, word);
    return { item: el('li', {}, button), button, canvas, name, word, asset: null };
  }

  /** Draws a picture in small; one is made at a time, since each is large. @param {any} canvas @param {string|null} asset @param {() => boolean} wanted */
  function draw(canvas, asset, wanted) {
    const g = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d'));
    g.clearRect(0, 0, canvas.width, canvas.height);
    if (!asset) return;
    line = line.then(async () => {
      if (signal.aborted || !wanted()) return;
      const blob = blobs.get(asset) ?? await pictureOf(asset, signal);
      blobs.set(asset, blob);
      const made = small.get(asset) ?? await createImageBitmap(blob, { resizeWidth: SMALL * 2, resizeQuality: 'medium' });
      small.set(asset, made);
      const by = Math.min(canvas.width / made.width, canvas.height / made.height);
      g.drawImage(made, (canvas.width - made.width * by) / 2, (canvas.height - made.height * by) / 2, made.width * by, made.height * by);
    }).catch(() => undefined);
  }

  function render() {
    const { photos } = store.state.doc;
    if (cards.length !== photos.length) {
      cards = photos.map((/** @type {any} */ _, /** @type {number} */ i) => card(i));
      node.replaceChildren(...cards.map((one) => one.item));
    }
    cards.forEach((one, i) => {
      const photo = photos[i];
      const [word, tone] = wordOf(finding.known(i), Boolean(photo.asset));
      one.name.textContent = `${i + 1}: ${photo.angle_deg}°`;
      one.word.textContent = word;
      one.word.className = tone;
      if (i === store.state.selected) one.button.setAttribute('aria-current', 'true'); else one.button.removeAttribute('aria-current');
      if (one.asset !== photo.asset) { one.asset = photo.asset; draw(one.canvas, photo.asset, () => one.asset === photo.asset); }
    });
  }
  render();
  const stop = store.subscribe(render);
  return { node, dispose: stop };
}
