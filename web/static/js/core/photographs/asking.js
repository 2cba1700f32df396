// @ts-check
/** What the server is asked: the bodies of the requests about photographs, and what is missing for one. */

/** @typedef {import('./project.js').Project} Project */

/** A photograph as the server takes it; what was not mended is left out. @param {import('./project.js').Photo} photo */
function photoOf({ asset, threshold, include, exclude, moved }) {
  return {
    asset,
    ...(threshold === undefined ? {} : { threshold }),
    ...(include.length ? { include } : {}), ...(exclude.length ? { exclude } : {}), ...(moved.length ? { moved: moved.map((one) => [one.from_px, one.to_px]) } : {}),
  };
}

const ROUGH_PX = 10;

/** How long the axis is in the picture, px. @param {import('./project.js').Axis|null} axis */
const longPx = (axis) => (axis ? Math.hypot(axis.to_px[0] - axis.from_px[0], axis.to_px[1] - axis.from_px[1]) : 0);

/**
 * The axis to some pixels: an edge needs it only to know which way the piece is held, and is not to be asked for anew
 * at every nudge. Null while it is too short to tell. @param {import('./project.js').Axis|null} axis
 */
function roughly(axis) {
  if (!axis || longPx(axis) < 4 * ROUGH_PX) return null;
  const near = (/** @type {[number, number]} */ point) => point.map((px) => Math.round(px / ROUGH_PX) * ROUGH_PX);
  return { from_px: near(axis.from_px), to_px: near(axis.to_px) };
}

/** The edge of one photograph; null where there is no picture. @param {Project} doc @param {number} index */
export function outlineBody(doc, index) {
  const photo = doc.photos[index];
  const axis = roughly(doc.axis);
  return photo?.asset ? { photo: photoOf(photo), ...(axis ? { axis } : {}) } : null;
}

/** A name of what would be asked: the same asked again has the same answer. @param {Project} doc @param {number} index */
export const outlineKey = (doc, index) => JSON.stringify(outlineBody(doc, index));

/** The skin. @param {Project} doc */
export function silhouettesBody({ setup, axis, photos }) {
  return {
    photos: photos.filter((one) => one.asset).map((one) => ({ ...photoOf(one), angle_deg: one.angle_deg })),
    axis, length_mm: setup.length_mm, camera_mm: setup.far ? null : setup.camera_mm, camera_deg: setup.camera_deg,
    ...(setup.k1 || setup.k1_sigma ? { k1: setup.k1, k2: setup.k2 ?? 0, k1_sigma: setup.k1_sigma ?? 0 } : {}), axis_sigma_px: setup.axis_sigma_px,
  };
}

/** What a person still has to do before the skin can be worked out; empty where nothing. @param {Project} doc @returns {string[]} */
export function missing({ setup, axis, photos }) {
  const without = photos.filter((one) => !one.asset).length;
  const have = photos.length - without;
  return [
    have === 0 ? 'choose the pictures' : have > 1 && have < 8 ? `${have} pictures are too few: one for a body of revolution, 8 or more else` : '',
    have > 0 && without ? `${without} of ${photos.length} angles have no picture: give them one, or set the number to what there is` : '',
    longPx(axis) > 1 ? '' : 'mark the two points of the axis',
    setup.length_mm && setup.length_mm > 0 ? '' : 'type the length between the two points',
    setup.far || (setup.camera_mm && setup.camera_mm > 0) ? '' : 'type the camera\u2019s distance from the axis, or say that it is far away',
  ].filter(Boolean);
}

/** The program that turns the rotary. @param {Project} doc @param {any} machine the job's own @param {'pause'|number} wait */
export const turnBody = (doc, job, wait) => ({ angles_deg: doc.photos.map((one) => one.angle_deg), blank: job.blank, ...(job.machine === undefined ? {} : { machine: job.machine }), wait });

/** Times of even steps in a clip in which the piece makes one turn. @param {number} from_s @param {number} to_s @param {number} count */
export const clipTimes = (from_s, to_s, count) => Array.from({ length: count }, (_, i) => from_s + ((to_s - from_s) * i) / count);

/** In name order, as a person counts: 2 before 10. @template {{ name: string }} T @param {T[]} files @returns {T[]} */
export const inNameOrder = (files) => [...files].sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true, sensitivity: 'base' }) || (a.name < b.name ? -1 : 1));
