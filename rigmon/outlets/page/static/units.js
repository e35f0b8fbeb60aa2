// Figures as the maker reads them: units and decimal point. Everything inside is °C, g and s.

const GRAMS_PER_OUNCE = 28.349523125; // exact, international yard and pound agreement of 1959
const MINUS = "\u2212";
export const UNKNOWN = "–";

export function makeFormat(units, language) {
  const point = language === "de" ? "," : ".";
  const format = { unit: units.temperature, massUnit: units.mass, language };

  format.number = (x, digits = 0) => {
    if (x === null || x === undefined || !Number.isFinite(x)) return UNKNOWN;
    const text = x.toFixed(digits);
    const sign = Number(text) < 0 ? MINUS : "";
    return sign + text.replace("-", "").replace(".", point);
  };
  format.degrees = (c, digits = 1) => {
    if (c === null || c === undefined) return UNKNOWN;
    return format.number(format.unit === "F" ? c * 1.8 + 32 : c, digits);
  };
  format.temperature = (c, digits = 1) => {
    const text = format.degrees(c, digits);
    return text === UNKNOWN ? text : `${text} °${format.unit}`;
  };
  format.mass = (g) => {
    if (g === null || g === undefined) return UNKNOWN;
    if (format.massUnit === "oz") return `${format.number(g / GRAMS_PER_OUNCE, 1)} oz`;
    return g >= 1000 ? `${format.number(g / 1000, 2)} kg` : `${format.number(g)} g`;
  };
  return format;
}

/** A typed figure: point or comma, any minus sign; null if it is none. */
export function typed(text) {
  const plain = text
    .trim()
    .replace(",", ".")
    .replace(/^[\u2212–]/, "-");
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
}

export const celsius = (degrees, unit) => (unit === "F" ? (degrees - 32) / 1.8 : degrees);
export const fromGrams = (g, massUnit) => (massUnit === "oz" ? g / GRAMS_PER_OUNCE : g);
export const toGrams = (x, massUnit) => (massUnit === "oz" ? x * GRAMS_PER_OUNCE : x);

/** A duration as minutes and seconds, or hours and minutes. */
export function clock(seconds) {
  const whole = Math.max(Math.round(seconds), 0);
  const two = (n) => String(n).padStart(2, "0");
  if (whole >= 3600) return `${Math.floor(whole / 3600)} h ${two(Math.floor(whole / 60) % 60)} min`;
  return `${Math.floor(whole / 60)}:${two(whole % 60)}`;
}

/** A range of times to go, in the words of a plan: minutes, or hours from three on. */
export function minutes(low, high, format) {
  const text = (s) => format.number(s / 60);
  if (low === null || low === undefined) return UNKNOWN;
  if (high === null || high === undefined) return `> ${text(low)} min`;
  return text(low) === text(high) ? `${text(high)} min` : `${text(low)}–${text(high)} min`;
}
