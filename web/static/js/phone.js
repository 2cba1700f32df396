// @ts-check
/**
 * The phone's page: takes the photographs one after another and sends each until the bench has it. A file is let go only
 * when the bench has acknowledged it, so a line that drops loses nothing. It stands alone, and needs nothing that plain
 * http lacks.
 */

/** @typedef {{ angles_deg: number[], taken: boolean[] }} State */

const ROOT = document.body.dataset.root ?? '';
const MOST_BYTES = Number(document.body.dataset.mostBytes);
const FIRST_MS = 1000;
const LONGEST_MS = 15000;

/** @param {string} id @returns {any} */
const find = (id) => document.getElementById(id);
const [which, turn, told, take, picture, words, shown, again, retry, all, list] = ['which', 'turn', 'told', 'take', 'picture', 'take-words', 'shown', 'again', 'retry', 'all', 'list'].map(find);

/** @type {State} */
let state = { angles_deg: [], taken: [] };
/** Which photograph is to be taken, from 0. */
let at = 0;
/** Files that the bench has not acknowledged, by number. @type {Map<number, Blob>} */
const waiting = new Map();
/** The bench has closed the page. */
let shut = false;
let sending = false;
let pause = 0;
let pauseMs = FIRST_MS;
let picked = '';
/** A file that was there before the angles were known. @type {File|null} */
let early = null;

/** @param {number} degrees */
const angle = (degrees) => `${String(Number(degrees.toFixed(3))).replace('-', '\u2212')}°`;
const done = (/** @type {number} */ i) => state.taken[i] || waiting.has(i);

/** @param {string} text @param {string} [tone] */
function say(text, tone = '') {
  told.textContent = text;
  told.className = `told ${tone}`;
}

/** The next one that is wanted from `from` on, round to the beginning; -1 where there is none. @param {number} from */
function wanted(from) {
  const count = state.angles_deg.length;
  for (let step = 0; step < count; step += 1) if (!done((from + step) % count)) return (from + step) % count;
  return -1;
}

function render() {
  const count = state.angles_deg.length;
  const finished = count > 0 && at < 0;
  which.textContent = finished ? 'Photographs for the bench' : `Photograph ${at + 1} of ${count}`;
  turn.textContent = shut ? 'This page is closed' : finished ? (waiting.size ? 'Nearly done' : 'All are taken') : `Turn to A = ${angle(state.angles_deg[at])}`;
  take.hidden = shut || finished;
  all.hidden = shut;
  words.textContent = at >= 0 && done(at) ? 'Take it again' : 'Take the photograph';
  picture.setAttribute('aria-label', `${words.textContent}: number ${at + 1}`);
  again.hidden = shut || !waiting.size || sending;
  list.replaceChildren(...state.angles_deg.map((degrees, i) => {
    const button = document.createElement('button');
    const word = waiting.has(i) ? 'waits' : state.taken[i] ? 'taken' : 'to take';
    button.type = 'button';
    button.className = state.taken[i] && !waiting.has(i) ? 'taken' : '';
    button.textContent = `${i + 1}: ${angle(degrees)} ${word}`;
    if (i === at) button.setAttribute('aria-current', 'true');
    button.addEventListener('click', () => { at = i; render(); scrollTo(0, 0); picture.focus(); });
    const item = document.createElement('li');
    item.append(button);
    return item;
  }));
}

/** What is to be told when nothing else is. */
function rest() {
  if (waiting.size) say(`${waiting.size} to send. Keep this page open.`);
  else if (at < 0) say('The bench has all photographs. You can put the phone away.', 'good');
  else say(state.taken.some(Boolean) ? `The bench has ${state.taken.filter(Boolean).length}.` : '');
}

picture.addEventListener('change', () => {
  const file = picture.files[0];
  picture.value = '';
  if (!file) return;
  if (state.angles_deg.length) accept(file); else early = file;
});

/** @param {File} file the photograph at hand */
function accept(file) {
  if (file.size > MOST_BYTES) { say(`This picture is too large (${Math.round(file.size / 1e6)} MB). Choose a smaller size in the camera.`, 'bad'); return; }
  if (picked) URL.revokeObjectURL(picked);
  picked = URL.createObjectURL(file);
  shown.src = picked;
  shown.hidden = false;
  waiting.set(at, file);
  at = wanted(at + 1);
  pauseMs = FIRST_MS;
  render();
  rest();
  send();
}

/** Sends what waits, one after another, and tries again where the line drops. */
async function send() {
  if (sending || shut) return;
  clearTimeout(pause);
  sending = true;
  render();
  while (waiting.size && !shut) {
    const [number, file] = /** @type {[number, Blob]} */ (waiting.entries().next().value);
    say(`Sending photograph ${number + 1} …`);
    if (!(await sent(number, file))) break;
  }
  sending = false;
  render();
  if (waiting.size && !shut) {
    pause = setTimeout(send, pauseMs);
    pauseMs = Math.min(LONGEST_MS, pauseMs * 2);
  } else if (!shut && !told.classList.contains('bad')) rest();
}

/** @param {number} number @param {Blob} file @returns {Promise<boolean>} false where it is to be tried again */
async function sent(number, file) {
  let answer;
  try {
    answer = await fetch(`${ROOT}/photo/${number + 1}`, { method: 'POST', body: file, headers: { 'Content-Type': file.type || 'application/octet-stream' } });
    if (answer.ok) state = await answer.json();
  } catch {
    say(`The line is down. Photograph ${number + 1} is kept here and sent again.`, 'bad');
    return false;
  }
  if (answer.ok) {
    if (waiting.get(number) === file) waiting.delete(number);
    pauseMs = FIRST_MS;
    say('');
    render();
    return true;
  }
  if (answer.status === 404) { closed(); return false; }
  if (answer.status === 429 || answer.status === 503 || answer.status === 408 || answer.status >= 500) {
    pauseMs = Math.max(pauseMs, 1000 * (Number(answer.headers.get('Retry-After')) || 0));
    say(`The bench is busy. Photograph ${number + 1} is kept here and sent again.`, 'bad');
    return false;
  }
  const problem = await answer.json().catch(() => null);
  if (waiting.get(number) === file) waiting.delete(number);
  at = number;
  say(`Photograph ${number + 1} was not taken: ${problem?.detail ?? 'the bench cannot use it.'}`, 'bad');
  return true;
}

function closed() {
  shut = true;
  say(waiting.size ? `The bench has closed this page; ${waiting.size} could not be sent. Open it anew from the bench.` : 'The bench has closed this page.', 'bad');
  render();
}

async function begin() {
  clearTimeout(pause);
  try {
    const answer = await fetch(`${ROOT}/state`);
    if (answer.status === 404) { closed(); return; }
    if (!answer.ok) throw new Error(String(answer.status));
    state = await answer.json();
    at = wanted(0);
    render();
    rest();
    if (early) accept(early);
    early = null;
  } catch {
    say('The bench cannot be reached. It is tried again.', 'bad');
    pause = setTimeout(begin, pauseMs);
    pauseMs = Math.min(LONGEST_MS, pauseMs * 2);
  }
}

retry.addEventListener('click', () => { pauseMs = FIRST_MS; send(); });
addEventListener('online', () => { if (waiting.size) { pauseMs = FIRST_MS; send(); } });
addEventListener('beforeunload', (event) => { if (waiting.size && !shut) event.preventDefault(); });
begin();
