// @ts-check
/** The server's routes as functions. A refused request is a `Refusal`, which carries the problem document (RFC 9457). */
import { hear } from './core/events.js';
import { unpack, viewOf } from './core/arrays.js';

export class Refusal extends Error {
  /** @param {number} status @param {any} problem @param {string|null} [after] the answer's Retry-After */
  constructor(status, problem, after = null) {
    super(problem?.detail || problem?.title || `The server answered ${status}.`);
    this.status = status;
    this.problem = problem;
    /** @type {{ pointer: string, given?: unknown, allowed: string }[]} */
    this.errors = problem?.errors ?? [];
    /** When to ask again, of a server that is only busy; else 0. */
    this.againMs = status === 503 || status === 429 ? Math.max(1, Number(after) || 5) * 1000 : 0;
  }
}

/** The answer of a request; a Refusal where the server will not. @param {string} address @param {RequestInit} [init] @returns {Promise<Response>} */
export async function request(address, init) {
  const answer = await fetch(address, init);
  if (answer.ok) return answer;
  throw new Refusal(answer.status, await answer.json().catch(() => null), answer.headers.get('Retry-After'));
}

/** @param {string} method @param {unknown} body @param {Record<string, string>} [headers] @returns {RequestInit} */
export const json = (method, body, headers = {}) => ({ method, body: JSON.stringify(body), headers: { 'Content-Type': 'application/json', ...headers } });

const MOST_TRIES = 24; // of a busy server in a row: two minutes at the five seconds that it asks for

/**
 * Does work, and again where the server is only busy, after the time that it gives; `waiting` is called before each wait.
 * @template T @param {() => Promise<T>} work @param {AbortSignal} stop @param {() => void} [waiting] @returns {Promise<T>}
 */
export async function patiently(work, stop, waiting = () => undefined) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await work();
    } catch (error) {
      const wait = error instanceof Refusal ? error.againMs : 0;
      if (!wait || tries === MOST_TRIES || stop.aborted) throw error;
      waiting();
      await new Promise((wake) => { const timer = setTimeout(wake, wait); stop.addEventListener('abort', () => { clearTimeout(timer); wake(null); }, { once: true }); });
    }
  }
}

/** @param {string} root where the API stands */
export function createApi(root) {
  /** @param {string} path @param {RequestInit} [init] */
  const ask = (path, init) => request(root + path, init);
  /** @param {Response} answer */
  const stored = async (answer) => ({ ...(await answer.json()), etag: answer.headers.get('ETag') });

  return {
    /** @param {File} file */
    async upload(file) {
      const form = new FormData();
      form.append('file', file);
      return (await ask('/assets', { method: 'POST', body: form })).json();
    },
    /** What was found of a file when it came in. @param {string} id @returns {Promise<any>} */
    asset: async (id) => (await ask(`/assets/${id}/facts`)).json(),
    /** A picture as it will be cut. @param {any} job @param {number} artwork @param {AbortSignal} signal @returns {Promise<Blob>} */
    picture: async (job, artwork, signal) => (await ask('/picture', { ...json('POST', { job, artwork }), signal })).blob(),
    /** What a photograph of a cut card gave. @param {any} body */
    toneCard: async (body) => (await ask('/tone-card', json('POST', body))).json(),
    toneCardUrl: () => `${root}/tone-card.png`,
    /** The faces for lettering. @returns {Promise<{ name: string, strokes: boolean }[]>} */
    faces: async () => (await ask('/faces')).json(),
    /** @param {any} job @param {AbortSignal} signal */
    plan: async (job, signal) => (await ask('/plan', { ...json('POST', job), signal })).json(),
    /** @param {string} id */
    forget: (id) => ask(`/plans/${id}`, { method: 'DELETE' }).then(() => undefined, () => undefined),
    /** @param {string} id @param {AbortSignal} signal */
    planned: async (id, signal) => (await ask(`/plans/${id}`, { signal })).json(),
    /** Calls `heard` with the plan at each event, to the end. @param {string} id @param {AbortSignal} signal @param {(plan: any) => void} heard */
    async follow(id, signal, heard) {
      await hear(await ask(`/plans/${id}/events`, { headers: { Accept: 'text/event-stream' }, signal }), heard);
    },
    /** What the views draw, or null while there is nothing yet. @param {string} id @param {AbortSignal} signal */
    async strokes(id, signal) {
      try {
        const answer = await ask(`/plans/${id}/strokes`, { headers: { Accept: 'application/vnd.roundwright.arrays' }, signal });
        return viewOf(unpack(await answer.arrayBuffer()));
      } catch (error) {
        if (error instanceof Refusal) return null;
        throw error;
      }
    },
    /** @param {string} id */
    differenceUrl: (id) => `${root}/plans/${id}/difference.png`,
    /** @param {string} id @param {'engrave'|'air'|'walk'} kind */
    programUrl: (id, kind) => `${root}/plans/${id}/program?kind=${kind}`,
    /** The rest of an engraving, as a file and its name. @param {string} id @param {number} from */
    async rest(id, from) {
      const answer = await ask(`/plans/${id}/program?kind=engrave&from_stroke=${from}`);
      return { file: await answer.blob(), name: answer.headers.get('Content-Disposition')?.match(/filename="([^"]+)"/)?.[1] ?? 'rest.ngc' };
    },
    /** @param {string} id */
    sheetUrl: (id) => `${root}/plans/${id}/sheet`,
    /** @param {string} id @param {'a4'|'letter'} paper */
    paperUrl: (id, paper) => `${root}/plans/${id}/paper.pdf?page=${paper}`,
    /** @param {string} id */
    pictureUrl: (id) => `${root}/plans/${id}/proof.png`,
    jobs: async () => (await (await ask('/jobs')).json()).items,
    /** @param {string} id */
    job: async (id) => stored(await ask(`/jobs/${id}`)),
    /** @param {any} job */
    addJob: async (job) => stored(await ask('/jobs', json('POST', job))),
    /** @param {string} id @param {any} job @param {string} etag */
    saveJob: async (id, job, etag) => stored(await ask(`/jobs/${id}`, json('PUT', job, { 'If-Match': etag }))),
    /** @param {string} id @param {string} etag */
    dropJob: (id, etag) => ask(`/jobs/${id}`, { method: 'DELETE', headers: { 'If-Match': etag } }),
    /** @param {'machines'|'tools'|'materials'} what */
    library: async (what) => (await (await ask(`/${what}`)).json()).items,
  };
}
