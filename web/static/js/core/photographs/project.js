// @ts-check
/**
 * What a person has set up, chosen and mended for a skin from photographs, as one plain document, and the commands that
 * change it. Points are in pixels of the picture as it is shown, corners at whole numbers, y down.
 *
 * @typedef {[number, number]} Point
 * @typedef {{ from_px: Point, to_px: Point }} Axis
 * @typedef {{ angle_deg: number, asset: string|null, name: string, threshold?: number, include: Point[][], exclude: Point[][], moved: { from_px: Point, to_px: Point }[] }} Photo
 * @typedef {{ setup: { count: number, length_mm?: number, camera_mm?: number, far: boolean, camera_deg: number, k1: number, k2?: number, k1_sigma?: number, axis_sigma_px: number }, axis: Axis|null, photos: Photo[] }} Project
 */
import { withValue } from '../document.js';

export const MOST_PHOTOS = 72;

/** @param {number} count @returns {number[]} even steps of one turn from 0 */
export const evenAngles = (count) => Array.from({ length: count }, (_, i) => Number(((360 * i) / count).toFixed(4)));

/** @param {number} angle_deg @returns {Photo} */
const bare = (angle_deg) => ({ angle_deg, asset: null, name: '', include: [], exclude: [], moved: [] });

/** @returns {Project} what a person begins from: 24 photographs by a phone held some way off */
export const emptyProject = () => ({
  setup: { count: 24, far: false, camera_deg: 0, k1: 0, axis_sigma_px: 1.5 },
  axis: null,
  photos: evenAngles(24).map(bare),
});

/** As many photographs as asked, at even angles; pictures keep their places. @param {Project} doc @param {number} count @returns {Project} */
export function withCount(doc, count) {
  const whole = Math.min(MOST_PHOTOS, Math.max(1, Math.round(count)));
  const photos = evenAngles(whole).map((angle_deg, i) => ({ ...(doc.photos[i] ?? bare(angle_deg)), angle_deg }));
  return { ...doc, setup: { ...doc.setup, count: whole }, photos };
}

/** A picture in its place: what was mended on the one before goes with it. @param {Project} doc @param {number} index @param {string|null} asset @param {string} name @returns {Project} */
export function withPicture(doc, index, asset, name) {
  if (!doc.photos[index] || doc.photos[index].asset === asset) return doc;
  return withValue(doc, `/photos/${index}`, { ...bare(doc.photos[index].angle_deg), asset, name });
}

/** One corner list more. @param {Project} doc @param {number} index @param {'include'|'exclude'} what @param {Point[]} corners @returns {Project} */
export const withLasso = (doc, index, what, corners) => withValue(doc, `/photos/${index}/${what}`, [...doc.photos[index][what], corners]);

/**
 * A point of the edge moved; moved again it keeps where it came from.
 * @param {Project} doc @param {number} index @param {Point} from @param {Point} to @returns {Project}
 */
export function withMoved(doc, index, from, to) {
  const { moved } = doc.photos[index];
  const same = moved.findIndex((one) => one.from_px[0] === from[0] && one.from_px[1] === from[1]);
  const next = { from_px: from, to_px: to };
  return withValue(doc, `/photos/${index}/moved`, same < 0 ? [...moved, next] : moved.map((one, i) => (i === same ? next : one)));
}

/** The photograph as it was found, without anything mended. @param {Project} doc @param {number} index @returns {Project} */
export function withoutMending(doc, index) {
  const { angle_deg, asset, name } = doc.photos[index];
  return withValue(doc, `/photos/${index}`, { ...bare(angle_deg), asset, name });
}

/** @param {any} state @param {any} command */
export function applyProject(state, command) {
  const doc = (/** @type {Project} */ next) => (next === state.doc ? state : { ...state, doc: next, selected: Math.min(state.selected, next.photos.length - 1) });
  switch (command.type) {
    case 'put': return command.pointer === '/setup/count' ? doc(withCount(state.doc, command.value)) : doc(withValue(state.doc, command.pointer, command.value));
    case 'count': return doc(withCount(state.doc, command.value));
    case 'picture': return doc(withPicture(state.doc, command.index, command.asset, command.name));
    case 'lasso': return doc(withLasso(state.doc, command.index, command.what, command.corners));
    case 'moved': return doc(withMoved(state.doc, command.index, command.from, command.to));
    case 'bare': return doc(withoutMending(state.doc, command.index));
    case 'outline': return { ...state, outlines: { ...state.outlines, [command.key]: command.outline } };
    case 'select': return { ...state, selected: Math.min(state.doc.photos.length - 1, Math.max(0, command.index)) };
    case 'mode': return { ...state, mode: command.value };
    case 'mask': return { ...state, mask: command.value };
    case 'slide': return { ...state, sliding: command.value };
    case 'unit': return { ...state, unit: command.value };
    default: return state;
  }
}
