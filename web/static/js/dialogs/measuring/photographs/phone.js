// @ts-check
/** The phone's page, from the bench: its code to be scanned, what has come, and closing it. Pictures come in at once. */
import { el } from '../../../views/dom.js';
import { closePhone, followPhone, openPhone, phoneNow } from './server.js';
import { guarded } from './pictures.js';

/** @param {import('./pictures.js').Room} room @param {AbortSignal} signal */
export function phonePart({ store, bench }, signal) {
  const { memory } = bench;
  const body = el('div', { class: 'part' });
  const state = el('p', { class: 'hint', role: 'status' });
  let picture = '';

  const open = () => guarded(bench, async () => { memory.heard = {}; show(await openPhone(store.state.doc.photos.map((/** @type {any} */ one) => one.angle_deg), memory.address)); });
  const close = () => guarded(bench, async () => { await closePhone(); shut('The phone\u2019s page is closed; what has come stays.'); });
  const button = (/** @type {string} */ text, /** @type {() => void} */ press) => el('button', { type: 'button', class: 'btn small', onclick: press }, text);

  /** @param {string} [words] */
  function shut(words = '') {
    if (picture) URL.revokeObjectURL(picture);
    picture = '';
    state.textContent = words;
    const address = el('input', { type: 'text', id: 'phone-address', class: 'line', maxlength: '45', autocomplete: 'off', spellcheck: 'false', placeholder: 'found by itself', value: memory.address ?? '' });
    address.addEventListener('change', () => { memory.address = address.value.trim(); });
    body.replaceChildren(
      el('div', { class: 'row' }, button('Take them with a phone', open)),
      el('details', { class: 'fold' }, el('summary', {}, 'The phone does not reach this computer'),
        el('div', { class: 'part' }, el('div', { class: 'field' }, el('label', { for: 'phone-address' }, 'This computer\u2019s address on the phone\u2019s network'), address),
          el('p', { class: 'hint' }, 'Both must be on the same network, and the computer\u2019s firewall must let the phone in. Where the computer is on several networks, give its address on the phone\u2019s.'))));
  }

  /** @param {any} door */
  function show(door) {
    picture = URL.createObjectURL(new Blob([door.qr_svg], { type: 'image/svg+xml' }));
    body.replaceChildren(
      el('figure', { class: 'phone-code' }, el('img', { src: picture, alt: 'Code with the address of the phone\u2019s page', width: '220', height: '220' }),
        el('figcaption', {}, el('span', {}, 'Scan it with a phone on the same network, or type '), el('code', {}, door.url))),
      el('p', { class: 'hint' }, 'The page takes pictures and gives nothing out. It closes after half an hour without a word from the phone. Others on this network can read what is sent.'),
      el('div', { class: 'row' }, button('Close the phone\u2019s page', close)));
    guarded(bench, async () => {
      await followPhone(signal, hear);
      if (!signal.aborted) shut('The phone\u2019s page is closed; what has come stays.');
    });
  }

  /** @param {any} told */
  function hear(told) {
    for (const { number, asset } of told.photographs) {
      if (!asset || memory.heard?.[number] === asset.id) continue;
      memory.heard = { ...memory.heard, [number]: asset.id };
      store.dispatch({ type: 'picture', index: number - 1, asset: asset.id, name: `phone ${number}`, label: `picture ${number}` });
      store.dispatch({ type: 'select', index: number - 1 });
    }
    const come = told.photographs.filter((/** @type {any} */ one) => one.asset).length;
    state.textContent = !told.seen ? 'Waiting for the phone.' : `${come} of ${told.photographs.length} photographs have come.`;
  }

  shut();
  guarded(bench, async () => { const door = await phoneNow(); if (door && !signal.aborted) show(door); });
  signal.addEventListener('abort', () => { if (picture) URL.revokeObjectURL(picture); });
  return el('div', { class: 'part' }, body, state);
}
