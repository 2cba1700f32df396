// @ts-check
/** The few requests of this way that are no plain POST of JSON for JSON. */
import { Refusal } from '../../../api.js';
import { eventReader } from '../../../core/events.js';

const ROOT = `${JSON.parse(document.getElementById('initial')?.textContent ?? '{}').api ?? '/api'}`;
const PHONE = `${ROOT}/measure/phone`;

/** @param {string} address @param {RequestInit} [init] @returns {Promise<Response>} */
async function ask(address, init) {
  const answer = await fetch(address, init);
  if (answer.ok) return answer;
  throw new Refusal(answer.status, await answer.json().catch(() => null), answer.headers.get('Retry-After'));
}

/** @param {unknown} body @returns {RequestInit} */
const posted = (body) => ({ method: 'POST', body: JSON.stringify(body), headers: { 'Content-Type': 'application/json' } });

/** @param {'a4'|'letter'} paper */
export const cardUrl = (paper) => `${ROOT}/measure/card.svg?paper=${paper}`;

/** The bytes of a picture that is stored. @param {string} asset @param {AbortSignal} signal */
export const pictureOf = async (asset, signal) => (await ask(`${ROOT}/assets/${asset}`, { signal })).blob();

/** @param {number[]} angles_deg @param {string} [address] */
export const openPhone = async (angles_deg, address) => (await ask(PHONE, posted({ angles_deg, ...(address ? { address } : {}) }))).json();

/** The page that is open already, or null. */
export async function phoneNow() {
  const door = await (await ask(PHONE)).json();
  return door.open ? door : null;
}

export const closePhone = () => ask(PHONE, { method: 'DELETE' });

/** Calls `heard` with the state at each change, until the page is closed or the signal aborts. @param {AbortSignal} signal @param {(state: any) => void} heard */
export async function followPhone(signal, heard) {
  const answer = await ask(`${PHONE}/events`, { headers: { Accept: 'text/event-stream' }, signal });
  const reader = /** @type {ReadableStream<Uint8Array>} */ (answer.body).getReader();
  const decoder = new TextDecoder();
  const take = eventReader();
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    for (const data of take(decoder.decode(value, { stream: true }))) heard(JSON.parse(data));
  }
}

/** Hands a file to the person. @param {Blob} file @param {string} name */
export function save(file, name) {
  const url = URL.createObjectURL(file);
  const link = document.createElement('a');
  Object.assign(link, { href: url, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
