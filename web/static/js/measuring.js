// @ts-check
/** The server's measuring routes, and what is kept of measuring until the page is left: nothing typed is lost by closing. */
import { fileOf, json, request } from './api.js';

/** @param {string} root where the API stands */
export function createMeasuring(root) {
  /** @param {string} path @param {unknown} body @param {AbortSignal} [signal] */
  const post = (path, body, signal) => request(`${root}/measure/${path}`, { ...json('POST', body), signal });
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
    file: async (path, body, signal) => fileOf(await post(path, body, signal), `${path}.ngc`),
  };
}
