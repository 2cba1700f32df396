// @ts-check
/** The few requests of this way that are no plain POST of JSON for JSON. */
import { json, request } from '../../../api.js';
import { hear } from '../../../core/events.js';

const ROOT = `${JSON.parse(document.getElementById('initial')?.textContent ?? '{}').api ?? '/api'}`;
const PHONE = `${ROOT}/measure/phone`;

/** @param {'a4'|'letter'} paper */
export const cardUrl = (paper) => `${ROOT}/measure/card.svg?paper=${paper}`;

/** The bytes of a picture that is stored. @param {string} asset @param {AbortSignal} signal */
export const pictureOf = async (asset, signal) => (await request(`${ROOT}/assets/${asset}`, { signal })).blob();

/** @param {number[]} angles_deg @param {string} [address] */
export const openPhone = async (angles_deg, address) => (await request(PHONE, json('POST', { angles_deg, ...(address ? { address } : {}) }))).json();

/** The page that is open already, or null. */
export async function phoneNow() {
  const door = await (await request(PHONE)).json();
  return door.open ? door : null;
}

export const closePhone = () => request(PHONE, { method: 'DELETE' });

/** Calls `heard` with the state at each change, until the page is closed or the signal aborts. @param {AbortSignal} signal @param {(state: any) => void} heard */
export async function followPhone(signal, heard) {
  await hear(await request(`${PHONE}/events`, { headers: { Accept: 'text/event-stream' }, signal }), heard);
}
