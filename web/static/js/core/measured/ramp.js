// @ts-check
/**
 * The colours of the maps, as tables of 256 colours. They are computed in Oklch, where equal steps look equal (CSS Color
 * Module Level 4, sections 9.3 and 10): lightness runs straight from the middle to either end, so that the order is
 * seen without hue; blue and orange are told apart by those who see no red or no green. Pure.
 * @typedef {{ colours: Uint8ClampedArray, low: number, high: number, beyond: boolean }} Scale 256 × rgb over [low, high] mm
 */

const STEPS = 256;
const [BLUE, ORANGE] = [252, 55]; // hue angles, degrees
const LIGHT = { middle: 0.965, end: 0.42, chroma: 0.15 };
const DARK = { middle: 0.29, end: 0.86, chroma: 0.12 };

/** @param {number} value linear @returns {number} 0 … 255 by the sRGB curve (IEC 61966-2-1) */
const coded = (value) => 255 * (value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055);

/** Oklch to linear sRGB (CSS Color 4, section 19: sample code). @param {number} lightness @param {number} chroma @param {number} hueDeg @returns {[number, number, number]} */
function linear(lightness, chroma, hueDeg) {
  const [a, b] = [chroma * Math.cos((hueDeg * Math.PI) / 180), chroma * Math.sin((hueDeg * Math.PI) / 180)];
  const l = (lightness + 0.3963377773761749 * a + 0.2158037573099136 * b) ** 3;
  const m = (lightness - 0.1055613458156586 * a - 0.0638541728258133 * b) ** 3;
  const s = (lightness - 0.0894841775298119 * a - 1.2914855480194092 * b) ** 3;
  return [
    4.0767416360759574 * l - 3.307711539258063 * m + 0.2309699031821043 * s,
    -1.2684379732850317 * l + 2.609757349287688 * m - 0.3413193760026572 * s,
    -0.0041960761386755 * l - 0.7034186179359362 * m + 1.7076146940746117 * s,
  ];
}

/** The colour, with as much of the chroma as a screen can show. @param {number} lightness @param {number} chroma @param {number} hueDeg */
function colour(lightness, chroma, hueDeg) {
  let part = chroma;
  let rgb = linear(lightness, part, hueDeg);
  while (part > 0 && rgb.some((one) => one < 0 || one > 1)) {
    part = Math.max(0, part - 0.002);
    rgb = linear(lightness, part, hueDeg);
  }
  return rgb.map((one) => coded(Math.min(1, Math.max(0, one))));
}

/** From blue (inside) over paper to orange (outside). @param {boolean} dark @returns {Uint8ClampedArray} */
export function diverging(dark) {
  const { middle, end, chroma } = dark ? DARK : LIGHT;
  return table((t) => {
    const far = Math.abs(2 * t - 1);
    return colour(middle + (end - middle) * far, chroma * far ** 0.8, t < 0.5 ? BLUE : ORANGE);
  });
}

/** From paper to ink by way of brass. @param {boolean} dark @returns {Uint8ClampedArray} */
export function sequential(dark) {
  const { middle, end } = dark ? DARK : LIGHT;
  return table((t) => colour(middle + (end - 0.08 * (dark ? -1 : 1) - middle) * t, 0.02 + 0.09 * Math.sin(Math.PI * Math.min(1, 0.15 + 0.7 * t)), 80));
}

/** @param {(t: number) => number[]} at @returns {Uint8ClampedArray} */
function table(at) {
  const colours = new Uint8ClampedArray(STEPS * 3);
  for (let k = 0; k < STEPS; k += 1) colours.set(at(k / (STEPS - 1)).map(Math.round), k * 3);
  return colours;
}

/** @param {number} value @returns {number} the next of 1, 1.5, 2, 3, 5, 7 times a power of ten */
export function roundUp(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  return power * ([1, 1.5, 2, 3, 5, 7, 10].find((one) => one * power >= value * (1 - 1e-9)) ?? 10);
}

const LEAST_MM = 0.01; // below what callipers can tell: a truly round blank stays pale
const SHARE = 0.98; // of the places; the rest shows in the end's colour

/**
 * The scale over which a field is shown.
 * @param {Float64Array} field @param {'deviation'|'radius'|'sigma'} kind @param {boolean} dark @returns {Scale}
 */
export function scaleOf(field, kind, dark) {
  const sorted = Float64Array.from(kind === 'deviation' ? field.map(Math.abs) : field).sort();
  const top = sorted[sorted.length - 1];
  if (kind === 'radius') return { colours: sequential(dark), low: sorted[0], high: Math.max(top, sorted[0] + LEAST_MM), beyond: false };
  const most = roundUp(Math.max(LEAST_MM, kind === 'sigma' ? sorted[Math.floor(SHARE * (sorted.length - 1))] : top));
  return kind === 'sigma' ? { colours: sequential(dark), low: 0, high: most, beyond: top > most } : { colours: diverging(dark), low: -most, high: most, beyond: false };
}

/** @param {Scale} scale @param {number} [stops] @returns {string} a CSS gradient from low to high */
export function gradientOf({ colours }, stops = 17) {
  const parts = Array.from({ length: stops }, (_, k) => {
    const at = Math.round((k * (STEPS - 1)) / (stops - 1)) * 3;
    return `rgb(${colours[at]} ${colours[at + 1]} ${colours[at + 2]})`;
  });
  return `linear-gradient(90deg, ${parts.join(', ')})`;
}
