// @ts-check
/** From an answer to the job's blank, and from what is typed to what is asked. Pure. */
import { sharedOf } from '../document.js';

/** The measured blank in the place of the present one, whose material, wall and keep-outs stay. @param {any} measured @param {any} present @returns {any} */
export function takenBlank(measured, present) {
  const { radius_error_mm: _, ...kept } = sharedOf(present);
  return { ...kept, ...measured };
}

/** Stations from one place to another, the last one included where the steps come to it. @param {number} from @param {number} to @param {number} step mm @returns {number[]} */
export function stationsBetween(from, to, step) {
  if (!(step > 0) || !(to >= from)) return [];
  return Array.from({ length: Math.floor((to - from) / step + 1e-9) + 1 }, (_, k) => Number((from + k * step).toFixed(6)));
}
