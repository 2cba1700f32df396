// @ts-check
/** What a person or the server can do to the bench, as one pure function from state and command to state. */
import { withValue } from './document.js';

/** @param {number} value @param {number} low @param {number} high */
const within = (value, low, high) => Math.min(high, Math.max(low, value));

/** @param {any} state @param {any} doc */
const documented = (state, doc) => (doc === state.doc ? state : { ...state, doc, selected: within(state.selected, 0, Math.max(0, doc.artwork.length - 1)) });

/** @param {any} state @param {{ index: number, change: any }} command */
function placed(state, { index, change }) {
  const before = state.doc.artwork[index].placement;
  if (Object.keys(change).every((key) => before[key] === change[key])) return state;
  return documented(state, withValue(state.doc, `/artwork/${index}/placement`, { ...before, ...change }));
}

/** @param {any} state @param {any} command */
export function apply(state, command) {
  switch (command.type) {
    case 'put': return documented(state, withValue(state.doc, command.pointer, command.value));
    case 'document': return documented(state, command.doc);
    case 'place': return placed(state, command);
    case 'load': return { ...state, doc: command.doc, saved: command.saved, selected: 0, lit: null, moment: 0, ticks: [] };
    case 'saved': return { ...state, saved: command.saved };
    case 'asset': return { ...state, assets: { ...state.assets, [command.facts.id]: command.facts } };
    case 'library': return { ...state, library: { ...state.library, ...command.change } };
    case 'plan': return { ...state, plan: { ...state.plan, ...command.change } };
    case 'view': return { ...state, view: command.view, moment: Math.min(state.moment, command.view.seconds) };
    case 'select': return { ...state, selected: command.index };
    case 'unit': return { ...state, unit: command.value };
    case 'ground': return { ...state, ground: command.value };
    case 'open': return { ...state, open: command.keep || state.open !== command.value ? command.value : null };
    case 'show': return { ...state, show: { ...state.show, [command.key]: command.value } };
    case 'light': return { ...state, lit: command.finding };
    case 'tick': return { ...state, ticks: command.ticks };
    case 'say': return { ...state, said: command.text };
    case 'moment': {
      const at = within(command.seconds, 0, state.view?.seconds ?? 0);
      return at === state.moment ? state : { ...state, moment: at };
    }
    default: return state;
  }
}
