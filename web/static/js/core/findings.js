// @ts-check
/** Findings as the page lists them, and what must be acknowledged before the engraving program is given out. */

/** @typedef {{ severity: 'error'|'warning'|'note', code: string, message: string, advice?: string, where?: { pointer?: string, line?: number, stroke?: number, x_mm?: number, angle_deg?: number } }} Finding */

/** @param {Finding} finding */
export const keyOf = (finding) => `${finding.code}\n${finding.message}`;

/** @param {readonly Finding[]} findings @param {readonly string[]} ticks */
export function gateOf(findings, ticks) {
  const errors = findings.filter((one) => one.severity === 'error').length;
  const open = findings.filter((one) => one.severity === 'warning' && !ticks.includes(keyOf(one))).length;
  return { errors, open, shut: errors > 0 || open > 0 };
}

/** Codes whose every warning is ticked: what the job document keeps. @param {readonly Finding[]} findings @param {readonly string[]} ticks @returns {string[]} */
export function acknowledgedCodes(findings, ticks) {
  const warnings = findings.filter((one) => one.severity === 'warning');
  const open = new Set(warnings.filter((one) => !ticks.includes(keyOf(one))).map((one) => one.code));
  return [...new Set(warnings.map((one) => one.code))].filter((code) => !open.has(code)).sort();
}

/** The faults of a refused document, told as findings. @param {{ pointer: string, given?: unknown, allowed: string }[]} problems @returns {Finding[]} */
export const asFindings = (problems) => problems.map(({ pointer, given, allowed }) => ({
  severity: 'error', code: 'document', where: { pointer },
  message: `${pointer || 'The document'}: ${given === null || given === undefined ? '' : `${given} is not allowed, `}${allowed}.`,
}));
