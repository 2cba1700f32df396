// @ts-check
/** The server's measuring routes, and what is kept of measuring until the page is left: nothing typed is lost by closing. */
import { json, request } from './api.js';

/** @param {string} root where the API stands */
export function createMeasuring(root) {
  /** @param {string} path @param {unknown} body @param {AbortSignal} [signal] @returns {Promise<any>} */
  const ask = async (path, body, signal) => (await request(`${root}/measure/${path}`, { ...json('POST', body, { Accept: 'application/json' }), signal })).json();
  /** @type {Record<string, any>} */
  const memory = {};
  return {
    /** What a way keeps. @param {string} id @returns {Record<string, any>} */
    memory: (id) => (memory[id] ??= {}),
    /** What has been measured since the page was opened, newest last. @type {{ label: string, blank: any }[]} */
    measured: [],
    ask,
    /** A program that the server writes, as a file, and what it found. @param {string} path @param {unknown} body @param {AbortSignal} [signal] @returns {Promise<import('./dialogs/measuring/ways.js').Written>} */
    async file(path, body, signal) {
      const { program, findings, time_s } = await ask(path, body, signal);
      return { file: new Blob([program], { type: 'text/plain' }), name: `${path}.ngc`, findings, time_s };
    },
  };
}
