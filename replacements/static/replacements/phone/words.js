// The crew's language and units. English is written in the code; every text that a screen shows
// passes here, is looked up whole or by its pattern ("{n} not sent"), and figures get their metric.
const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
const DAY = /\b(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (\d{1,2}), (\d{4})\b/g;
const METRIC = {
  ft: ["m", 0.3048],
  "in.": ["mm", 25.4],
  lb: ["kN", 0.00444822],
  psi: ["bar", 0.0689476],
};
const FIGURE =
  /(?<![\d/.,])(?:(?:(\d+)[- ])?(\d+)\/(\d+)|(\d[\d,]*(?:\.\d+)?))[ \u00a0](ft|in\.|lb|psi)(?![\w/-])/g;
const PARTICULAR = 12; // letters of a pattern that stand before the cutting into sentences
// Texts that no catalog has; a test reads them, a crew never.
export const missed = new Set();
export const chosen = { language: "en", metric: false };
let exact = new Map();
let patterns = [];
let months = MONTHS;

// `words` is the catalog of the language: English to its translation.
export function speak(language, metric, words = {}) {
  Object.assign(chosen, { language, metric });
  const entries = language === "en" ? [] : Object.entries(words);
  exact = new Map(entries);
  months = exact.has("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec")
    ? exact.get("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec").split(" ")
    : MONTHS;
  patterns = entries
    .filter(([text]) => /\{[^}]*\}/.test(text))
    .map(([text, told]) => pattern(text, told))
    .sort((a, b) => b.weight - a.weight);
  document.documentElement.lang = language;
}

function pattern(text, told) {
  const names = [];
  const source = text
    .split(/(\{[^}]*\})/)
    .map((part) => {
      if (!/^\{.*\}$/.test(part)) return part.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
      names.push(part);
      return "(.+?)";
    })
    .join("");
  return {
    test: new RegExp(`^${source}$`, "s"),
    names,
    told,
    weight: text.replace(/\{[^}]*\}/g, "").length,
  };
}

// Text in the crew's language, its figures in the crew's units.
export function say(text) {
  const words = String(text);
  const [, before, inner, after] = words.match(/^(\s*)(.*?)(\s*)$/s);
  if (!inner) return words;
  return before + metric(translated(inner)) + after;
}

function translated(text, depth = 0) {
  if (chosen.language === "en") return text;
  const whole = exact.get(text);
  if (whole !== undefined) return whole;
  const own = depth > 4 ? [] : patterns;
  const particular = matched(
    text,
    own.filter((p) => p.weight >= PARTICULAR),
    depth,
  );
  if (particular !== null) return particular;
  const sentences = text.split(/(?<=[.!?])(\s+)(?=[A-Z0-9])/);
  if (sentences.length > 1)
    return sentences.map((part) => (part.trim() ? translated(part, depth) : part)).join("");
  const general = matched(
    text,
    own.filter((p) => p.weight < PARTICULAR),
    depth,
  );
  if (general !== null) return general;
  const dated = text.replace(
    DAY,
    (_, month, day, year) => `${day} ${months[MONTHS.indexOf(month)]} ${year}`,
  );
  if (dated === text && /[a-z]{3}/i.test(text)) missed.add(text);
  return dated;
}

function matched(text, some, depth) {
  for (const { test, names, told } of some) {
    const found = text.match(test);
    if (!found) continue;
    const parts = names.map((name, at) => [name, translated(found[at + 1], depth + 1)]);
    return told.replace(/\{[^}]*\}/g, (name) => {
      const at = parts.findIndex(([known]) => known === name);
      return at < 0 ? name : parts.splice(at, 1)[0][1];
    });
  }
  return null;
}

// The figure as it was given stays; its metric stands behind it, so that nothing is rounded away.
function metric(text) {
  if (!chosen.metric) return text;
  return text.replace(FIGURE, (told, ones, over, under, plain, unit) => {
    const value = plain ? Number(plain.replaceAll(",", "")) : Number(ones ?? 0) + over / under;
    const [name, factor] = METRIC[unit];
    return `${told} (${asRead(value * factor)} ${name})`;
  });
}

// A moment as pages write it, such as Nov 30, 2026, 15:05, by this phone's clock.
export const clock = (when) => new Date(when).toTimeString().slice(0, 5);
export function moment(when) {
  const at = new Date(when);
  return `${MONTHS[at.getMonth()]} ${at.getDate()}, ${at.getFullYear()}, ${clock(at)}`;
}

// A figure as a tape or a gauge is read: three digits, and no whole one lost.
export function asRead(value) {
  const whole = String(Math.trunc(Math.abs(value))).length;
  return Number(value.toPrecision(Math.max(3, whole)));
}
