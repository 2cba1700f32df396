// @ts-check
/**
 * The marking styles as the forms tell them: a name, what it does in a line, and the fields of its document. Pure.
 *
 * @typedef {{ name: string, label: string, kind?: 'length'|'angle'|'whole'|'plain', step?: number, least?: number, optional?: string|boolean, when?: (marking: any) => boolean }} NumberOf
 * @typedef {{ name: string, legend: string, choices: [string, string][] }} ChoiceOf the first is the default
 * @typedef {{ name: string, label: string, usual?: boolean }} TickOf
 * @typedef {{ id: string, words: string, draws: 'lines'|'fills'|'tone', choices?: ChoiceOf[], numbers?: NumberOf[], ticks?: TickOf[], clears?: boolean }} StyleOf
 */

/** @type {NumberOf} */
const PITCH = { name: 'pitch_mm', label: 'Pitch on the skin', step: 0.05, least: 0.01, optional: 'by the tool' };
/** @type {NumberOf} */
const ANGLE = { name: 'angle_deg', label: 'Angle of the lines', kind: 'angle', step: 5, optional: true };
const STRAIGHT = (/** @type {any} */ marking) => (marking?.lines ?? 'straight') === 'straight';

/** @type {StyleOf[]} */
export const STYLES = [
  {
    id: 'outline', draws: 'lines', words: 'Runs along the edge of every shape and along every line.',
    choices: [{ name: 'side', legend: 'Side of the edge', choices: [['on', 'on the edge'], ['inside', 'inside'], ['outside', 'outside']] }],
  },
  {
    id: 'hatch', draws: 'fills', words: 'Fills the shapes with lines whose distance on the skin is never over the pitch.',
    choices: [{ name: 'lines', legend: 'Lines', choices: [['straight', 'straight'], ['rings', 'rings round the axis'], ['helix', 'one helix']] }],
    numbers: [PITCH, { ...ANGLE, when: STRAIGHT }, { name: 'inset_mm', label: 'Inset from the edge', step: 0.05, least: 0, optional: true }],
    ticks: [{ name: 'keep_inside', label: 'Keep the tool’s width inside the edge' }, { name: 'crossed', label: 'Cross it with a second set of lines' }, { name: 'outline', label: 'Run the outline too' }],
  },
  {
    id: 'rings', draws: 'fills', words: 'Follows the edge inwards, ring after ring; islands are kept.',
    numbers: [PITCH, { name: 'inset_mm', label: 'Inset from the edge', step: 0.05, least: 0, optional: 'by the tool' }],
    ticks: [{ name: 'joined', label: 'Join the rings into spirals', usual: true }],
  },
  { id: 'centreline', draws: 'lines', words: 'One stroke along the middle of thin shapes: lettering, stems, veins of a leaf.' },
  {
    id: 'v-depth', draws: 'fills', words: 'A cone sinks as deep as the shape is wide: sharp corners, no deeper than the depth.', clears: true,
    numbers: [{ name: 'outline_mm', label: 'Outline true to', step: 0.001, least: 0.001, optional: true }, { name: 'clear_pitch_mm', label: 'Pitch of the clearing', step: 0.05, least: 0.01, optional: 'by the tool' }],
  },
  {
    id: 'halftone', draws: 'tone', words: 'Lines whose width carries light and dark; for photographs.',
    choices: [{ name: 'lines', legend: 'Lines', choices: [['straight', 'straight'], ['rings', 'rings'], ['helix', 'one helix'], ['meridians', 'along the axis']] }],
    numbers: [PITCH, { ...ANGLE, when: STRAIGHT }, { name: 'least_depth_mm', label: 'Least depth', step: 0.005, least: 0, optional: true }],
  },
  {
    id: 'stipple', draws: 'tone', words: 'Dots, closer where it is darker; the tool only pecks.',
    numbers: [{ name: 'dot_mm', label: 'Dot across', step: 0.05, least: 0.02, optional: 'by the tool' }, { name: 'seed', label: 'Seed of the pattern', kind: 'whole', step: 1, least: 0, optional: true }],
  },
  {
    id: 'relief', draws: 'tone', words: 'Grey becomes depth: the darkest lies at the full depth.', clears: true,
    numbers: [{ name: 'scallop_mm', label: 'Height of ridges', step: 0.001, least: 0.001, optional: true }, ANGLE,
      { name: 'rough_step_mm', label: 'Roughing step', step: 0.1, least: 0.01, optional: 'none' }, { name: 'stock_mm', label: 'Left for the finish', step: 0.05, least: 0, optional: true }],
  },
];

/** @param {string|undefined} id @returns {StyleOf} */
export const styleOf = (id) => STYLES.find((one) => one.id === id) ?? STYLES[1];

/** What another style can take over of a marking, and the style itself. @param {any} marking @param {string} id @returns {any} */
export function restyled(marking, id) {
  const { choices = [], numbers = [], ticks = [], clears } = styleOf(id);
  const kept = new Set([...numbers, ...ticks].map((one) => one.name));
  const held = Object.entries(marking ?? {}).filter(([name, value]) => kept.has(name) || (clears && name === 'clearing_tool')
    || choices.some((one) => one.name === name && one.choices.some(([choice]) => choice === value)));
  return { style: id, ...Object.fromEntries(held) };
}
