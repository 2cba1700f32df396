// @ts-check
/** Asks a server that is only busy again, after the time that it gives. */
import { Refusal } from '../../../api.js';

const MOST_TRIES = 24;

/** @template T @param {() => Promise<T>} work @param {AbortSignal} stop @returns {Promise<T>} */
export async function patiently(work, stop) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await work();
    } catch (error) {
      const wait = error instanceof Refusal ? error.againMs : 0;
      if (!wait || tries === MOST_TRIES || stop.aborted) throw error;
      await new Promise((wake) => { const timer = setTimeout(wake, wait); stop.addEventListener('abort', () => { clearTimeout(timer); wake(null); }); });
    }
  }
}
