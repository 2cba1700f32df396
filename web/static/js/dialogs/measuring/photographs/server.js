// @ts-check
/** The few requests of this way that are no plain POST of JSON for JSON. */
import { Refusal } from '../../../api.js';
import { hear } from '../../../core/events.js';

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
  await hear(await ask(`${PHONE}/events`, { headers: { Accept: 'text/event-stream' }, signal }), heard);
}
