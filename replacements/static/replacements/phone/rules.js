// The program's own gates on the phone: it reads the data that page and API read, and adds nothing.
// `tests/replacements/phone` runs both over the same cases. Nothing here calls a job safe.

// A figure as the program writes it: six digits, no needless zeros.
export function figure(value) {
  return String(Number(Number(value).toPrecision(6)));
}

const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
export function dayTold(iso) {
  const [year, month, day] = iso.split("-").map(Number);
  return `${MONTHS[month - 1]} ${day}, ${year}`;
}

const DAY = /^\d{4}-\d\d-\d\d$/;
const told = (value) => {
  if (value === null || value === undefined) return "";
  if (typeof value === "number") return figure(value);
  return DAY.test(String(value)) ? dayTold(value) : String(value);
};

const known = (compare) => (left, right) =>
  left !== null && left !== undefined && right !== null && right !== undefined
    ? compare(left, right)
    : false;
const blank = (value) =>
  value === null || value === undefined || (typeof value === "string" && !value.trim());
const given = (value) => (Array.isArray(value) ? value.length > 0 : Boolean(value));

function months(day, count) {
  const [year, month, date] = day.split("-").map(Number);
  const at = year * 12 + month - 1 + count;
  const [y, m] = [Math.floor(at / 12), at % 12];
  const last = new Date(Date.UTC(y, m + 1, 0)).getUTCDate();
  const two = (number) => String(number).padStart(2, "0");
  return `${String(y).padStart(4, "0")}-${two(m + 1)}-${two(Math.min(date, last))}`;
}

const OPERATIONS = {
  and: (...each) => each.every(given),
  or: (...each) => each.some(given),
  not: (value) => !given(value),
  no: (value) => value === false,
  blank,
  "<": known((left, right) => left < right),
  "<=": known((left, right) => left <= right),
  ">": known((left, right) => left > right),
  ">=": known((left, right) => left >= right),
  days: (since, until) =>
    blank(since) || blank(until) ? null : (Date.parse(until) - Date.parse(since)) / 86400000,
  months: (day, count) => (blank(day) ? null : months(day, count)),
  times: (left, right) => (blank(left) || blank(right) ? null : left * right),
};

function valued(asked, scope, limits) {
  if (typeof asked === "string")
    return asked.startsWith("@") ? limits[asked.slice(1)] : (scope[asked] ?? null);
  if (!Array.isArray(asked)) return asked;
  const [name, ...rest] = asked;
  if (name === "has") {
    const said = String(scope[rest[0]] ?? "").toLowerCase();
    return rest.slice(1).some((word) => said.includes(word));
  }
  return OPERATIONS[name](...rest.map((each) => valued(each, scope, limits)));
}

function filled(words, gate, scope, limits) {
  return words.replace(/\{([^}]+)\}/g, (_, name) =>
    told(valued(name in gate.reckon ? gate.reckon[name] : name, scope, limits)),
  );
}

function scopes(facts, of) {
  if (!of) return [facts];
  if (of === "pit") return facts.excavations;
  if (of === "pull" && !facts.pull) return [];
  return [facts[of] ?? {}];
}

// What the gates say of a start; `data` holds gates and limits.
export function judgeStart(data, facts, asOf) {
  const found = [];
  let at = 0;
  while (at < data.gates.length) {
    const of = data.gates[at].of;
    const rows = [];
    while (at < data.gates.length && data.gates[at].of === of) rows.push(data.gates[at++]);
    for (const own of scopes(facts, of))
      found.push(...judgeOne(rows, { ...own, as_of: asOf }, data.limits));
  }
  return found;
}

function judgeOne(rows, scope, limits) {
  const found = [];
  const chains = new Set();
  for (const gate of rows) {
    if (gate.chain && chains.has(gate.chain)) continue;
    if (!given(valued(gate.when, scope, limits))) continue;
    chains.add(gate.chain);
    const words = (text) => filled(text, gate, scope, limits);
    const fields = gate.fields.map((name) => (scope.key ? `${scope.key}_${name}` : name));
    found.push({
      level: gate.level,
      rule: gate.rule,
      message: words(gate.says),
      do: words(gate.do),
      fields,
    });
    if (gate.alone) break;
  }
  return found;
}

const number = (value) =>
  value === undefined || value === null || value === "" ? null : Number(value);
const day = (value) => value || null;
const tick = (value) => value === "on";

// The answers of the start's form as the gates read them; the same as `StartForm.facts`.
export function factsOf(fields, pits, pulled) {
  const pit = ([key, name]) => ({
    key,
    name,
    depth_ft: number(fields[`${key}_depth_ft`]),
    protective_system: (fields[`${key}_protection`] ?? "").trim() || null,
    cave_in_signs: tick(fields[`${key}_cave_in`]),
    egress_within_ft: number(fields[`${key}_egress_ft`]),
    spoil_setback_ft: number(fields[`${key}_spoil_ft`]),
    inspected_on: day(fields[`${key}_inspected_on`]),
    inspected_by: (fields[`${key}_inspected_by`] ?? "").trim(),
    rain_since_inspection: tick(fields[`${key}_rain`]),
  });
  const ticked = (names) => Object.fromEntries(names.map((name) => [name, tick(fields[name])]));
  return {
    excavations: pits.map(pit).filter((each) => each.depth_ft !== null),
    ticket: {
      number: (fields.ticket_number ?? "").trim(),
      valid_from: day(fields.ticket_from),
      expires_on: day(fields.ticket_to),
      ...ticked(["marks_visible"]),
    },
    lead: {
      ...ticked(["hygiene_set_up", "scrap_contained"]),
      cutting_method: fields.cutting_method ?? "",
    },
    pull: pulled
      ? {
          free_cable_ft: number(fields.free_cable_ft),
          exclusion_zone_ft: number(fields.exclusion_zone_ft),
          gauge_calibrated_on: day(fields.gauge_calibrated_on),
          ...ticked([
            "barriers_at_both_pits",
            "spotter_with_radio",
            "emergency_stop_tried",
            "relief_set",
            "bore_proved",
          ]),
        }
      : null,
    traffic_plan:
      { yes: true, clear: null }[fields.traffic] ?? (fields.traffic !== "clear" ? false : null),
    ...ticked(["line_isolated", "electrical_ground_checked"]),
  };
}

// What is to be said of one row of the assembly checklist; null when it is passed.
export function judgeRow(check, answer, faces) {
  const level = check.stop ? "STOP" : "CAUTION";
  const measured = answer?.measured ?? null;
  const passed = answer?.passed ?? null;
  const open = measured === null && passed === null;
  const one = (what, values = {}, at = level) => ({
    level: at,
    open,
    what: what.replace(/\{(\w+)\}/g, (_, name) => told(values[name])),
  });
  if (open) return one("nobody answered");
  if (passed === false) return one("not so");
  if (check.answer === "YES") return passed ? null : one("not answered yes");
  if (measured === null || !Number.isFinite(measured) || measured < 0)
    return one("no measured value");
  if (check.answer === "FACES") {
    if (!faces) return one("how many faces the jaw set has is not known");
    return measured < faces
      ? one("{value} of {faces} faces coated", { value: measured, faces })
      : null;
  }
  const values = { value: measured, low: check.low, high: check.high, unit: check.unit };
  const of = (verdict) => (verdict === "STOP" ? "STOP" : level);
  if (check.low !== null && measured < check.low)
    return one("{value} {unit} is under {low} {unit}", values, of(check.if_low));
  if (check.high !== null && measured > check.high)
    return one("{value} {unit} is over {high} {unit}", values, of(check.if_high));
  return null;
}
