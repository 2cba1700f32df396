// @ts-check
/** The server's measuring routes, and what is kept of measuring until the page is left: nothing typed is lost by closing. */
import { Refusal } from './api.js';

/** @param {string} root where the API stands */
export function createMeasuring(root) {
  /** @param {string} path @param {unknown} body @param {AbortSignal} [signal] */
  async function post(path, body, signal) {
    const answer = await fetch(`${root}/measure/${path}`, { method: 'POST', body: JSON.stringify(body), headers: { 'Content-Type': 'application/json' }, signal });
    if (answer.ok) return answer;
    throw new Refusal(answer.status, await answer.json().catch(() => null), answer.headers.get('Retry-After'));
  }
  /** @type {Record<string, any>} */
  const memory = {};
  return {
    /** What a way keeps. @param {string} id @returns {Record<string, any>} */
    memory: (id) => (memory[id] ??= {}),
    /** What has been measured since the page was opened, newest last. @type {{ label: string, blank: any }[]} */
    measured: [],
    /** @param {string} path @param {unknown} body @param {AbortSignal} [signal] @returns {Promise<any>} */
    ask: async (path, body, signal) => (await post(path, body, signal)).json(),
    /** A file that the server writes, and its name. @param {string} path @param {unknown} body @param {AbortSignal} [signal] @returns {Promise<{ file: Blob, name: string }>} */
    async file(path, body, signal) {
      const answer = await post(path, body, signal);
      return { file: await answer.blob(), name: answer.headers.get('Content-Disposition')?.match(/filename="([^"]+)"/)?.[1] ?? `${path}.ngc` };
    },
  };
}
