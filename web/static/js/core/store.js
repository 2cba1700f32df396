// @ts-check
/**
 * One frozen state, one 'change' event. Commands are plain objects that a pure function applies;
 * whatever changes `state.doc` can be undone. A gesture (`begin` … `commit`) is one step however
 * many commands it took, and `cancel` puts back what was there. A `silent` command is no step of its own, a `fresh` one
 * begins a new history. The store reads no clock.
 * @template {{ doc: object, history: { undo: string|null, redo: string|null } }} S
 * @typedef {{ state: S, dispatch(command: Command): void, begin(label: string): void, commit(): void, cancel(): void,
 *   undo(): void, redo(): void, subscribe(heard: (next: S, before: S) => void): () => void }} Store
 * @typedef {{ type: string, label?: string, merge?: string, silent?: boolean, fresh?: boolean, [extra: string]: unknown }} Command
 */

/** @template T @param {T} value @returns {T} frozen to the bottom; typed arrays are left as they are */
export function freeze(value) {
  if (value && typeof value === 'object' && !ArrayBuffer.isView(value) && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const key of Object.keys(value)) freeze(/** @type {any} */ (value)[key]);
  }
  return value;
}

const DEEPEST = 200;

/**
 * @param {any} initial @param {(state: any, command: Command) => any} apply
 * @returns {Store<any>}
 */
export function createStore(initial, apply) {
  const bus = new EventTarget();
  /** @type {{ doc: object, label: string, merge: string|undefined }[]} */
  let past = [];
  /** @type {{ doc: object, label: string, merge: string|undefined }[]} */
  let future = [];
  /** @type {{ doc: object, label: string }|null} */
  let gesture = null;
  let state = freeze({ ...initial, history: { undo: null, redo: null } });

  /** @param {any} next */
  function settle(next) {
    const history = { undo: past.at(-1)?.label ?? null, redo: future.at(-1)?.label ?? null };
    const same = history.undo === state.history.undo && history.redo === state.history.redo;
    if (next === state && same) return;
    const before = state;
    state = freeze(same ? { ...next, history: before.history } : { ...next, history });
    bus.dispatchEvent(new CustomEvent('change', { detail: { next: state, before } }));
  }

  /** @param {object} doc @param {string} label @param {string} [merge] */
  function remember(doc, label, merge) {
    const last = past.at(-1);
    if (!(merge && last && last.merge === merge)) past = [...past, { doc, label, merge }].slice(-DEEPEST);
    future = [];
  }

  return {
    get state() { return state; },
    dispatch(command) {
      const next = apply(state, command);
      if (next === state) return;
      if (command.fresh) { past = []; future = []; gesture = null; }
      else if (next.doc !== state.doc && !gesture && !command.silent) remember(state.doc, command.label ?? command.type, command.merge);
      settle(next);
    },
    begin(label) { gesture ??= { doc: state.doc, label }; },
    commit() {
      if (!gesture) return;
      const { doc, label } = gesture;
      gesture = null;
      if (doc !== state.doc) remember(doc, label);
      settle(state);
    },
    cancel() {
      if (!gesture) return;
      const { doc } = gesture;
      gesture = null;
      settle(doc === state.doc ? state : { ...state, doc });
    },
    undo() {
      const last = past.at(-1);
      if (gesture || !last) return;
      past = past.slice(0, -1);
      future = [...future, { ...last, doc: state.doc }];
      settle({ ...state, doc: last.doc });
    },
    redo() {
      const last = future.at(-1);
      if (gesture || !last) return;
      future = future.slice(0, -1);
      past = [...past, { ...last, doc: state.doc, merge: undefined }];
      settle({ ...state, doc: last.doc });
    },
    subscribe(heard) {
      /** @param {any} event */
      const listener = (event) => heard(event.detail.next, event.detail.before);
      bus.addEventListener('change', listener);
      return () => bus.removeEventListener('change', listener);
    },
  };
}
