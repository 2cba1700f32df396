// @ts-check
/**
 * The edges that the server has found, kept by what was asked: asked once, after a short rest, and never twice. A server
 * that is only busy is asked again; what nobody waits for any more is given up.
 */
import { Refusal, patiently } from '../../../api.js';
import { outlineBody, outlineKey } from '../../../core/photographs/asking.js';
import { fieldOf } from '../../../core/photographs/mask.js';

const REST_MS = 350;

/**
 * @param {import('./pictures.js').Room & { fields: Map<string, any> }} room `fields`: of distances, by picture
 * @param {AbortSignal} signal
 */
export function createFinding({ store, bench, fields }, signal) {
  let waiting = 0;
  let soonest = '';
  let errand = new AbortController();
  /** What was found last, by picture: it is shown while a changed one is looked at anew. @type {Map<string, any>} */
  const latest = new Map();
  const known = (/** @type {number} */ index) => store.state.outlines[outlineKey(store.state.doc, index)];

  /** @param {number} index @param {AbortSignal} stop @returns {Promise<void>} */
  async function find(index, stop) {
    const key = outlineKey(store.state.doc, index);
    const body = outlineBody(store.state.doc, index);
    const held = known(index);
    if (!body || stop.aborted || (held && held.state !== 'failed')) return;
    const put = (/** @type {any} */ outline) => store.dispatch({ type: 'outline', key, outline });
    put({ state: 'asking' });
    try {
      const { distance, ...answer } = await patiently(() => bench.ask('outline', body, stop), stop);
      if (distance) fields.set(/** @type {string} */ (body.photo.asset), fieldOf(distance));
      latest.set(/** @type {string} */ (body.photo.asset), answer);
      put({ state: 'found', ...answer });
    } catch (error) {
      put(stop.aborted ? undefined : { state: 'failed', why: wordsOf(error) });
    }
  }

  return {
    known,
    /** The edge to be shown of a photograph: the one that is known, else the one found before. @param {number} index */
    shown(index) {
      const held = known(index);
      return held?.state === 'found' ? held : latest.get(store.state.doc.photos[index]?.asset ?? '');
    },
    /** Finds the edge of a photograph once nothing has changed for a moment. @param {number} index */
    soon(index) {
      const key = outlineKey(store.state.doc, index);
      if (key === soonest) return;
      clearTimeout(waiting);
      errand.abort();
      soonest = key;
      if (!store.state.doc.photos[index]?.asset || known(index)) return;
      errand = new AbortController();
      const { signal: stop } = errand;
      waiting = setTimeout(() => find(index, stop), REST_MS);
    },
    /** Every photograph that has a picture, one after another. */
    async all() {
      for (let i = 0; i < store.state.doc.photos.length && !signal.aborted; i += 1) {
        bench.tell(`Finding edge ${i + 1} of ${store.state.doc.photos.length} …`);
        await find(i, signal);
      }
      bench.tell('The edges are found: look at each that is marked.');
    },
    dispose() { clearTimeout(waiting); errand.abort(); },
  };
}

/** @param {unknown} error */
function wordsOf(error) {
  if (!(error instanceof Refusal)) return 'The edge could not be asked for. Is the server still running?';
  return [error.message, ...error.errors.map((one) => one.allowed)].filter((one, k, list) => list.indexOf(one) === k).join(' ');
}

/** The state of a photograph in a word and its tone. @param {any} outline @param {boolean} picture @returns {[string, string]} */
export function wordOf(outline, picture) {
  if (!picture) return ['no picture', 'idle'];
  if (!outline) return ['not looked at', 'idle'];
  if (outline.state === 'asking') return ['finding …', 'idle'];
  if (outline.state === 'failed') return ['no edge', 'bad'];
  const worst = outline.findings?.find((/** @type {any} */ one) => one.severity === 'error') ?? outline.findings?.find((/** @type {any} */ one) => one.severity === 'warning');
  if (worst) return worst.severity === 'error' ? ['to mend', 'bad'] : ['look at it', 'warn'];
  return ['edge found', 'good'];
}
