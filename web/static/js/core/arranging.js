// @ts-check
/** How pieces of art stand to each other: copies, frames, lining up and spreading out. Pure; only documents change. */
import { wrapDeg } from './chart.js';

const tidy = (/** @type {number} */ value) => Number(value.toFixed(4));

/** The piece that a frame goes round, else the piece itself: what a hand moves. @param {any} doc @param {number} index @returns {number} */
export const rootOf = (doc, index) => {
  const around = doc.artwork[index]?.border?.around;
  return doc.artwork[around]?.placement ? around : index;
};

/** Where a piece of art lies; a frame lies where its piece does, and its size is its own. @param {any} doc @param {number} index @returns {any} */
export function placementOf(doc, index) {
  const { placement } = doc.artwork[index] ?? {};
  if (placement) return placement;
  const { width_mm, height_mm, mirror, ...inner } = doc.artwork[rootOf(doc, index)]?.placement ?? { x_mm: 0 };
  return inner;
}

/**
 * Where every copy of a piece lies. A mirrored copy is turned the other way, as its image would be.
 * @param {any} doc @param {number} index @returns {{ copy: number, mirrored: boolean, placement: any }[]}
 */
export function copiesOf(doc, index) {
  const first = placementOf(doc, index);
  const repeat = doc.artwork[rootOf(doc, index)]?.repeat;
  const times = Math.min(256, Math.max(1, Math.round(repeat?.times ?? 1)));
  const every = repeat?.every_deg ?? 360 / times;
  return Array.from({ length: times }, (_, copy) => {
    if (!copy) return { copy, mirrored: false, placement: first };
    const mirrored = repeat.mirror === 'alternate' && copy % 2 === 1;
    const placement = { ...first, x_mm: first.x_mm + copy * (repeat.step_mm ?? 0), angle_deg: (first.angle_deg ?? 0) + copy * every };
    if (mirrored) Object.assign(placement, { mirror: !first.mirror, turn_deg: -(first.turn_deg ?? 0) });
    return { copy, mirrored, placement };
  });
}

/** Which of its measures a hand may change. @param {any} doc @param {number} index @returns {{ size: boolean, turn: boolean }} */
export function gripsOf(doc, index) {
  const { border } = doc.artwork[index] ?? {};
  const { repeat, border: inner } = doc.artwork[rootOf(doc, index)] ?? {};
  const level = Boolean(repeat?.fit || inner);
  return { size: !border && !level, turn: !level };
}

/**
 * The document with pieces lined up or spread: `x` puts their centres at the station of the first, `theta` at its angle,
 * `spread` evenly once round from it on, in the order in which they stand.
 * @param {any} doc @param {readonly number[]} chosen the first is kept @param {'x'|'theta'|'spread'} how @returns {any}
 */
export function arranged(doc, chosen, how) {
  const roots = [...new Set(chosen.map((index) => rootOf(doc, index)))].filter((index) => doc.artwork[index]?.placement);
  if (roots.length < 2) return doc;
  const at = (/** @type {number} */ index) => doc.artwork[index].placement;
  const first = at(roots[0]);
  const start = first.angle_deg ?? 0;
  const beyond = (/** @type {number} */ index) => ((((at(index).angle_deg ?? 0) - start) % 360) + 360) % 360;
  const rest = roots.slice(1).map((index, k) => ({ index, k, beyond: beyond(index) })).sort((a, b) => a.beyond - b.beyond || a.k - b.k);
  const change = new Map(rest.map(({ index }, k) => [index, {
    x: { x_mm: first.x_mm },
    theta: { angle_deg: start },
    spread: { angle_deg: tidy(wrapDeg(start + ((k + 1) * 360) / roots.length)) },
  }[how]]));
  const artwork = doc.artwork.map((/** @type {any} */ item, /** @type {number} */ index) => (change.has(index) ? { ...item, placement: { ...item.placement, ...change.get(index) } } : item));
  return { ...doc, artwork };
}

/** The document without a piece, and without the frames round it; other frames go on round theirs. @param {any} doc @param {number} index @returns {any} */
export function withoutArt(doc, index) {
  const stays = (/** @type {any} */ item, /** @type {number} */ k) => k !== index && item.border?.around !== index;
  const kept = doc.artwork.map((/** @type {any} */ item, /** @type {number} */ k) => (stays(item, k) ? k : -1)).filter((/** @type {number} */ k) => k >= 0);
  const moved = (/** @type {any} */ item) => (item.border?.around === undefined ? item : { ...item, border: { ...item.border, around: kept.indexOf(item.border.around) } });
  return { ...doc, artwork: kept.map((/** @type {number} */ k) => moved(doc.artwork[k])) };
}

/**
 * A repeated piece as wide as makes its copies meet, or of its own width again: what the one forbids is left out.
 * @param {any} item @param {boolean} fit @returns {any}
 */
export function fitted(item, fit) {
  const { fit: was, ...repeat } = item.repeat;
  if (!fit) return { ...item, repeat };
  const { every_deg, step_mm, ...round } = repeat;
  const { width_mm, turn_deg, ...placement } = item.placement;
  return { ...item, repeat: { ...round, fit: true }, placement };
}

/** A border once round the blank at a station. @param {number} x_mm @param {number} depth_mm @returns {any} */
export const newBorder = (x_mm, depth_mm) => ({ border: { kind: 'wave', height_mm: 4 }, placement: { x_mm, angle_deg: 0 }, marking: { style: 'outline' }, depth_mm });

/** A frame round a piece. @param {any} doc @param {number} index @returns {any} */
export const newFrame = (doc, index) => ({ border: { kind: 'line', height_mm: 2, along: 'frame', around: rootOf(doc, index), margin_mm: 1 }, marking: { style: 'outline' }, depth_mm: doc.artwork[index].depth_mm });

/** What a border is called where it has no name. @param {any} border @returns {string} */
export const borderName = (border) => (border.along === 'frame' ? `${border.kind} frame` : `${border.kind} border`);
