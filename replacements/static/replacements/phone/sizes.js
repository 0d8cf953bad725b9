// Sizes and pressures as a crew types them: 3/8, 1 1/4, 5 ft 3 in, 9.5 mm; in its own units, or in
// those that are written behind. What is kept is in the program's units. Lengths are read as
// `domain/lengths.py` reads them; a test runs both over the same cases.
import { asRead, chosen } from "./words.js";

const LENGTHS = { in: 0.0254, ft: 0.3048, yd: 0.9144, mm: 0.001, cm: 0.01, m: 1 };
const PRESSURES = { psi: 6894.757293168361, bar: 100000, kpa: 1000, mpa: 1000000 };
// The unit of a label, its table, and what a crew that measures in metric types without a unit.
const KINDS = {
  ft: { own: "ft", table: LENGTHS, metric: "m" },
  "in.": { own: "in", table: LENGTHS, metric: "mm" },
  psi: { own: "psi", table: PRESSURES, metric: "bar" },
};
const NAMES = {
  "in.": "in",
  inch: "in",
  inches: "in",
  '"': "in",
  "ft.": "ft",
  feet: "ft",
  foot: "ft",
  "'": "ft",
  yds: "yd",
  yard: "yd",
  yards: "yd",
  millimeter: "mm",
  millimeters: "mm",
  centimeter: "cm",
  centimeters: "cm",
  meter: "m",
  meters: "m",
  metre: "m",
  metres: "m",
  psig: "psi",
  bars: "bar",
  barg: "bar",
  pulgada: "in",
  pulgadas: "in",
  pie: "ft",
  pies: "ft",
  metro: "m",
  metros: "m",
}; // prettier-ignore
const SIGNS = {
  "½": "1/2",
  "¼": "1/4",
  "¾": "3/4",
  "⅛": "1/8",
  "⅜": "3/8",
  "⅝": "5/8",
  "⅞": "7/8",
};
const MARKS = { "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "⁄": "/" };
const TERM =
  /(?:(\d{1,6})(?:\s+|\s*-\s*))?(\d{1,6})\s*\/\s*(\d{1,6})(?![\d.])|(\d{1,9}(?:\.\d{0,12})?|\.\d{1,12})(?![\d./])/y;
const UNIT = /\s*-?\s*(\p{L}+\.?|"|')?\s*/uy;

export const unitOf = (label) => /, (ft|in\.|psi)$/.exec(label)?.[1] ?? "";
export const nameOf = (unit) => (chosen.metric ? KINDS[unit].metric : unit);

// The number in the program's unit, or null where it can't be read or may be two.
export function read(text, unit, metric = chosen.metric) {
  const { own, table, metric: theirs } = KINDS[unit];
  const found = terms(text, table);
  if (!found?.length || !isOne(found)) return null;
  const plain = metric ? theirs : own;
  if (found.length > 1) found[1][1] = "in";
  const sum = found.reduce((all, [number, named]) => all + number * table[named ?? plain], 0);
  const value = sum / table[own];
  const round = found.some(([, named]) => !["in", "ft", "yd", "psi"].includes(named ?? plain));
  return Number(round ? value.toFixed(4) : value.toPrecision(12));
}

// Two terms are feet and inches, the only two that are written one behind the other.
function isOne([[, feet], second, ...more]) {
  return !second || (!more.length && feet === "ft" && [undefined, "in"].includes(second[1]));
}

function terms(text, table) {
  let plain = text.replace(/[″”“′’⁄]/g, (sign) => MARKS[sign]).toLowerCase();
  plain = plain.replace(/[½¼¾⅛⅜⅝⅞]/g, (sign) => ` ${SIGNS[sign]}`).trim();
  const found = [];
  for (let at = 0; at < plain.length; ) {
    TERM.lastIndex = at;
    const term = TERM.exec(plain);
    if (!term) return null;
    UNIT.lastIndex = TERM.lastIndex;
    const behind = UNIT.exec(plain)[1];
    at = UNIT.lastIndex;
    const named = behind && (NAMES[behind] ?? behind);
    const number = numberOf(term);
    if (number === null || (named && !(named in table))) return null;
    found.push([number, named]);
  }
  return found;
}

function numberOf([, whole, above, below, plain]) {
  if (plain) return Number(plain);
  if (!Number(below) || (whole && Number(above) >= Number(below))) return null;
  return Number(whole ?? 0) + above / below;
}

// What was kept, as a field shows it in the crew's units.
export function shown(value, unit) {
  if (!chosen.metric || value === "" || value === null || value === undefined)
    return String(value ?? "");
  const { own, table, metric } = KINDS[unit];
  return String(asRead((Number(value) * table[own]) / table[metric]));
}
