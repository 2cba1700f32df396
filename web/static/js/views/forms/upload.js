// @ts-check
/** Files that come in by button or drop: pictures become artwork, a table of readings becomes the blank. */
import { sharedOf } from '../../core/document.js';

/** What is neither artwork nor a blank as it is. @type {Record<string, string>} */
const ONLY_MEASURED = { mesh: 'a scan', readings: 'a text of readings' };

/** @param {import('./fields.js').Bench} bench @param {File[]} files */
export async function takeFiles({ store, tools }, files) {
  for (const file of files) {
    try {
      const facts = await tools.api.upload(file);
      store.dispatch({ type: 'asset', facts: { ...facts, name: file.name } });
      if (facts.kind === 'table') takeTable(store, facts.id);
      else if (ONLY_MEASURED[facts.kind]) store.dispatch({ type: 'say', text: `${file.name} is ${ONLY_MEASURED[facts.kind]}: choose Measure … on the blank to make a skin of it.` });
      else if (facts.kind === 'font') takeFont(store, facts, file.name);
      else takeArt(store, facts, file.name);
    } catch (error) {
      store.dispatch({ type: 'say', text: `${file.name}: ${error instanceof Error ? error.message : 'not taken'}` });
    }
  }
}

/** @param {any} store @param {string} asset */
function takeTable(store, asset) {
  store.dispatch({ type: 'put', pointer: '/blank', value: { shape: 'grid', asset, ...sharedOf(store.state.doc.blank) }, label: 'blank from a measured grid' });
}

/** Letters the chosen piece in a font, where it is lettering. @param {any} store @param {any} facts @param {string} name */
function takeFont(store, facts, name) {
  const { doc, selected } = store.state;
  if (doc.artwork[selected]?.text) store.dispatch({ type: 'put', pointer: `/artwork/${selected}/text/font`, value: facts.id, label: `letter in ${name}` });
  else store.dispatch({ type: 'say', text: `${name} is a font: choose it as the face of a piece of lettering.` });
}

/** A new piece of lettering in the middle of the blank. @param {any} store */
export function addText(store) {
  const { doc } = store.state;
  const [low, high] = ends(store.state);
  const item = {
    text: { string: 'Seed swap', font: 'sans', size_mm: Math.max(2, Math.round((high - low) * 0.6) / 10) },
    placement: { x_mm: Math.round((low + high) * 5) / 10, angle_deg: 0 },
    marking: { style: 'hatch', keep_inside: true, outline: true }, depth_mm: doc.artwork[0]?.depth_mm ?? 0.15,
  };
  store.dispatch({ type: 'put', pointer: `/artwork/${doc.artwork.length}`, value: item, label: 'add lettering' });
  store.dispatch({ type: 'select', index: doc.artwork.length });
}

/** From where to where the blank runs. @param {any} state @returns {[number, number]} */
function ends({ doc, view }) {
  const x = view?.of.blank === doc.blank ? view.skin.x : null;
  return x ? [x[0], x[x.length - 1]] : [doc.blank.stations?.[0].x_mm ?? 0, doc.blank.length_mm ?? doc.blank.stations?.at(-1).x_mm ?? 90];
}

/** Lays new art in the middle of the blank, as wide as half its way round or as high as it has room. @param {any} store @param {any} facts @param {string} name */
function takeArt(store, facts, name) {
  const { doc } = store.state;
  const view = store.state.view?.of.blank === doc.blank ? store.state.view : null;
  const [low, high] = ends(store.state);
  const radius = view ? view.skin.radii[Math.floor(view.skin.x.length / 2) * view.skin.angles] : (doc.blank.diameter_mm ?? doc.blank.breadth_mm ?? doc.blank.stations?.[0].diameter_mm ?? 40) / 2;
  const shape = facts.width && facts.height ? facts.width / facts.height : 1;
  const width = Math.max(1, Math.round(Math.min(Math.PI * radius * 0.7, (high - low) * 0.55 * shape)));
  const item = {
    asset: facts.id, name: name.slice(0, 80),
    placement: { x_mm: Math.round((low + high) * 5) / 10, angle_deg: 0, width_mm: width },
    marking: { style: 'hatch' }, depth_mm: doc.artwork[0]?.depth_mm ?? 0.15,
  };
  store.dispatch({ type: 'put', pointer: `/artwork/${doc.artwork.length}`, value: item, label: `add ${name}` });
  store.dispatch({ type: 'select', index: doc.artwork.length });
}
