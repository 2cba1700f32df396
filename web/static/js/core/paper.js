// @ts-check
/** Which paper is in the printer: Letter where that is the custom of the reader's country, else A4 (ISO 216). Pure. */

/** Countries whose office paper is Letter: common practice as CLDR's supplemental data tell it (paperSize US-Letter). */
const LETTER = new Set(['BZ', 'CA', 'CL', 'CO', 'CR', 'GT', 'MX', 'NI', 'PA', 'PH', 'PR', 'SV', 'US', 'VE']);

/** @param {string} language as a browser tells it, e.g. en-GB @returns {'a4'|'letter'} */
export function paperOf(language) {
  try {
    return LETTER.has(new Intl.Locale(language).region ?? '') ? 'letter' : 'a4';
  } catch { return 'a4'; }
}
