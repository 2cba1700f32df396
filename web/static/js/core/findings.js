// @ts-check
/** Findings as the page lists them, and what must be acknowledged before the engraving program is given out. */

/** @typedef {{ severity: 'error'|'warning'|'note', code: string, message: string, mark?: string, advice?: string, where?: { pointer?: string, line?: number, stroke?: number, x_mm?: number, angle_deg?: number } }} Finding */

/** @param {Finding} finding */
export const keyOf = (finding) => `${finding.code}\n${finding.message}`;

/** @param {readonly Finding[]} findings @param {readonly string[]} ticks */
export function gateOf(findings, ticks) {
  const errors = findings.filter((one) => one.severity === 'error').length;
  const open = findings.filter((one) => one.severity === 'warning' && !ticks.includes(keyOf(one))).length;
  return { errors, open, shut: errors > 0 || open > 0 };
}

/** Marks of the warnings that are ticked: what the job document keeps. @param {readonly Finding[]} findings @param {readonly string[]} ticks @returns {string[]} */
export function acknowledgedMarks(findings, ticks) {
  const ticked = findings.filter((one) => one.severity === 'warning' && ticks.includes(keyOf(one)));
  return [...new Set(ticked.map((one) => one.mark ?? one.code))].sort();
}

/** Whether a job holds a warning as acknowledged: just this one, or all of its code. @param {Finding} finding @param {readonly string[]} held */
export const isHeld = (finding, held) => held.includes(finding.mark ?? finding.code) || held.includes(finding.code);

/** The faults of a refused document, told as findings. @param {{ pointer: string, given?: unknown, allowed: string }[]} problems @returns {Finding[]} */
export const asFindings = (problems) => problems.map(({ pointer, given, allowed }) => ({
  severity: 'error', code: 'document', where: { pointer },
  message: `${pointer || 'The document'}: ${given === null || given === undefined ? '' : `${given} is not allowed, `}${allowed}.`,
}));
