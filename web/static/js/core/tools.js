// @ts-check
/** Which tool cuts which piece of art, and the document with a piece's tool changed. Pure. */

/** The tool that is used where a job names none, as the engine has it built in. */
export const BUILT_IN = Object.freeze({ id: 'cone-60', form: 'cone', diameter_mm: 3.175, tip_mm: 0.1, angle_deg: 60 });

/** The id of the tool that cuts a piece. @param {any} doc @param {number} index @returns {string} */
export const toolIdOf = (doc, index) => doc.artwork[index]?.tool ?? doc.tools?.[0]?.id ?? BUILT_IN.id;

/** A tool by its id, with what it leaves out as the engine has it. @param {any} doc @param {any} library @param {string} id @returns {any} */
function toolNamed(doc, library, id) {
  const found = [...(doc.tools ?? []), ...library.tools].find((/** @type {any} */ one) => one.id === id);
  return { ...BUILT_IN, ...(found ?? {}), id };
}

/** The tool of the chosen piece. @param {any} state @returns {any} */
export const toolOf = ({ doc, library, selected }) => toolNamed(doc, library, toolIdOf(doc, selected));

/** The tool in the spindle while a stroke of the program is cut, or before it. @param {any} state @param {number} stroke @returns {any} */
export function toolAt({ view, library, doc, selected }, stroke) {
  const used = view?.meta.tools ?? [];
  const now = used.findLast((/** @type {any} */ one) => one.from_stroke <= Math.max(1, stroke));
  return now ? toolNamed(view.of, library, now.id) : toolOf({ doc, library, selected });
}

/** Whether every piece is cut by one tool. @param {any} doc @returns {boolean} */
export const oneForAll = (doc) => new Set(doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => toolIdOf(doc, i))).size < 2;

/**
 * The document with a tool given to the chosen piece, to all of them where one tool cuts all; tools that nothing names go.
 * @param {any} doc @param {number} index @param {any} tool @param {boolean} [all] @returns {any}
 */
export function withTool(doc, index, tool, all = oneForAll(doc)) {
  const first = all || index === 0 ? tool.id : toolIdOf(doc, 0);
  const ids = doc.artwork.map((/** @type {any} */ _, /** @type {number} */ i) => (all || i === index ? tool.id : toolIdOf(doc, i)));
  const own = doc.tools?.length || first === tool.id || first !== BUILT_IN.id ? doc.tools ?? [] : [BUILT_IN];
  const named = new Set([first, tool.id, ...ids, ...doc.artwork.map((/** @type {any} */ item) => item.marking?.clearing_tool)]);
  const others = own.filter((/** @type {any} */ one) => one.id !== tool.id && named.has(one.id));
  const tools = [tool, ...others].sort((a, b) => Number(b.id === first) - Number(a.id === first));
  const artwork = doc.artwork.map((/** @type {any} */ { tool: _, ...rest }, /** @type {number} */ i) => (ids[i] === tools[0].id ? rest : { ...rest, tool: ids[i] }));
  return { ...doc, artwork, tools };
}

/** A flat end to clear with, where the shop has none of its own. */
const CLEARING = Object.freeze({ id: 'clearing', form: 'flat', diameter_mm: 1 });
export const NEW_CLEARING = '+';

/**
 * The document with a tool that clears for a piece: one by its id, a new one, or none ('').
 * @param {any} doc @param {number} index @param {string} id @returns {any}
 */
export function withClearing(doc, index, id) {
  const tool = id === NEW_CLEARING ? { ...CLEARING, id: (doc.tools ?? []).some((/** @type {any} */ one) => one.id === CLEARING.id) ? freshId(doc, CLEARING.id) : CLEARING.id } : null;
  const artwork = doc.artwork.map((/** @type {any} */ item, /** @type {number} */ i) => {
    if (i !== index) return item;
    const { clearing_tool: _, ...marking } = item.marking;
    return { ...item, marking: id ? { ...marking, clearing_tool: tool?.id ?? id } : marking };
  });
  if (!tool) return { ...doc, artwork };
  const held = doc.tools?.length ? doc.tools : [BUILT_IN]; // the first of a job's tools is that of pieces that name none
  return { ...doc, artwork, tools: [...held, tool] };
}

/** An id like the given one that no tool of the job has. @param {any} doc @param {string} id @returns {string} */
export function freshId(doc, id) {
  const taken = new Set([BUILT_IN.id, ...(doc.tools ?? []).map((/** @type {any} */ one) => one.id)]);
  const stem = id.replace(/-\d+$/, '');
  for (let n = 2; ; n += 1) if (!taken.has(`${stem}-${n}`)) return `${stem}-${n}`;
}
