// What the card of an order stands on: its steps, rows and drafts, and what the rules say of them.
import { draft, known, today } from "./drafts.js";
import { factsOf, figure, judgeRow, judgeStart } from "./rules.js";
import * as store from "./store.js";
import { pulled } from "./told.js";

const PLASTIC = ["PE", "PEX"];
export const BEFORE = ["string", "start"];
export const KEPT_LAST = [
  "main_inspected_by",
  "house_inspected_by",
  "gauge_calibrated_on",
  "cutting_method",
  "RETAINING_NUT_TORQUE",
];
// Everything the card of an order needs: questions, what is answered so far, the day.
export async function opened(id) {
  const [it, forms, day] = [await known(id), await store.get("kept", "forms"), await today()];
  if (!it || !forms?.card) return null;
  const last = (await store.get("kept", "last"))?.values ?? {};
  const back = it.given_back;
  const drafts = {
    card: await draft(it, "CARD", { said: {}, done: {}, day }),
    string: await draft(it, "CHECKLIST", { answers: {} }),
    start: await draft(it, "START", {
      fields: { on: day, ...it.started, ...held(last) },
    }),
    record: await draft(it, "COMPLETION", {
      fields: back?.fields ?? { outcome: "", finished_on: day, method_used: it.method },
      photos: back?.photos ?? [],
      pull: back?.pull ?? null,
      log: null,
      machine: {},
      position: null,
    }),
  };
  if (drafts.card.day !== day) anew(drafts, forms, day);
  if (drafts.card.string !== it.tool_string?.id) anotherString(drafts, forms, it.tool_string?.id);
  if (back && !drafts.card.opened) openAsSent(drafts, forms, back);
  return { it, forms, day, last, ...drafts };
}

const held = (last) => Object.fromEntries(Object.entries(last).filter(([name]) => name in FIELDS));
const FIELDS = Object.fromEntries(KEPT_LAST.slice(0, 4).map((name) => [name, true]));

// A start is answered on its day: yesterday's answers stand in the fields, but count for nothing.
export function anew(drafts, forms, day) {
  drafts.card.day = day;
  drafts.start.fields.on = day;
  for (const step of forms.card.steps.filter((s) => s.of === "start")) {
    delete drafts.card.done[step.key];
    for (const at of (step.so ?? []).keys()) delete drafts.card.said[`${step.key}.${at}`];
  }
}

// What was answered of one string says nothing of another.
function anotherString(drafts, forms, string) {
  if (drafts.card.string !== undefined) drafts.string.answers = {};
  drafts.card.string = string;
  for (const step of forms.card.steps.filter((s) => s.rows)) {
    delete drafts.card.done[step.key];
    for (const row of step.rows) delete drafts.card.said[row.split("=")[0]];
  }
}

// What was handed in stands; only what is to be mended is open again.
function openAsSent(drafts, forms, back) {
  drafts.card.opened = true;
  const mended = Object.keys(back.mend).map((part) => part.toLowerCase());
  const open = new Set(
    forms.record
      .filter((group) => mended.includes(group.title.toLowerCase()))
      .flatMap((group) => group.fields.map((f) => f.name)),
  );
  for (const step of forms.card.steps.filter((s) => s.of === "record"))
    drafts.card.done[step.key] = !fieldsOf(step).some((name) => open.has(name));
}

// Whether what a step or statement is only for is so: kind of the job, and one of its outcomes.
export function holds(ctx, only = "") {
  const { it, forms, record } = ctx;
  const words = {
    pulled: pulled(it),
    plastic: PLASTIC.includes(it.new_material),
    dosed: forms.card.dosed.includes(record.fields.disinfection),
  };
  const asked = only.split(" ").filter(Boolean);
  const wanted = asked.filter((word) => !(word in words));
  return (
    asked.every((word) => words[word] ?? true) &&
    (!wanted.length || wanted.includes(record.fields.outcome))
  );
}

export function steps(ctx, sections) {
  const { it, forms } = ctx;
  return forms.card.steps.filter((step) => {
    if (!sections.includes(step.of)) return false;
    if (!holds(ctx, step.only)) return false;
    return step.of !== "string" || (pulled(it) && rowsOf(ctx, step).length > 0);
  });
}

// The rows that the order asks for, as its tool set has them, each with its answer.
export function rowsOf(ctx, step) {
  const told = ctx.it.checklist?.rows ?? {};
  return (step.rows ?? [])
    .map((each) => each.split("="))
    .filter(([key]) => key in told)
    .map(([key, behind]) => {
      const check = ctx.forms.checklist.find((c) => c.key === key);
      const { criterion, low, high } = told[key];
      const faces = ctx.it.checklist.faces;
      const so = behind === "faces" ? faces : behind === undefined ? null : Number(behind);
      return { ...check, criterion, low, high, faces, so, onRecord: told[key] };
    });
}

const answerOf = (ctx, row) => ctx.string.answers[row.key] ?? {};
export const answered = (ctx, row) => {
  const answer = answerOf(ctx, row);
  if ((answer.passed ?? null) !== null || (answer.measured ?? null) !== null) return true;
  return row.onRecord.level === "GOOD";
};
// A row that one tap confirms: seen, or with the value that "so" records.
export const confirmed = (row) => row.answer === "YES" || row.so !== null;

// What the program's rules say of the answers of a step, the worst first.
export function findings(ctx, step) {
  const found = rowsOf(ctx, step)
    .map((row) => [
      row,
      answered(ctx, row) && !ctx.string.answers[row.key]
        ? null
        : judgeRow(row, answerOf(ctx, row), row.faces),
    ])
    .filter(([, judged]) => judged)
    .map(([row, judged]) => ({
      level: judged.level,
      fields: [row.key],
      shows: row.shows,
      message: judged.what,
      do: row.criterion,
    }));
  if (step.of === "start") {
    const names = new Set(fieldsOf(step));
    const facts = factsOf(ctx.start.fields, ctx.forms.rules.pits, pulled(ctx.it));
    found.push(
      ...judgeStart(ctx.forms.rules, facts, ctx.start.fields.on).filter((f) =>
        f.fields.some((name) => names.has(name)),
      ),
    );
  }
  return found.sort((a, b) => (b.level === "STOP") - (a.level === "STOP"));
}

const fieldsOf = (step) => [
  ...(step.ask ?? []).flatMap((each) => each.split("+")),
  ...(step.so ?? []).flatMap((said) => Object.keys(said.sets)),
];

export function passed(ctx, step) {
  if (step.of === "string" && rowsOf(ctx, step).every((row) => answered(ctx, row)))
    return (
      !findings(ctx, step).some((f) => f.level === "STOP") &&
      (ctx.card.done[step.key] || onRecord(ctx, step))
    );
  return Boolean(ctx.card.done[step.key]) && !findings(ctx, step).some((f) => f.level === "STOP");
}
export const onRecord = (ctx, step) =>
  rowsOf(ctx, step).every((row) => row.onRecord.level === "GOOD");

export function lacking(ctx, step) {
  if (step.of !== "record") return [];
  return (step.ask ?? [])
    .map((names) => names.split("+")[0])
    .filter((name) => (ctx.record.fields[name] ?? "") === "")
    .map((name) => ctx.forms.card.fields[name].label);
}

const zone = (ctx) => {
  const cable = Number(ctx.start.fields.free_cable_ft);
  return cable > 0
    ? Math.ceil(cable * ctx.forms.rules.limits.exclusion_cable_lengths * 10) / 10
    : null;
};
export function figureOf(ctx, value) {
  if (value === "today") return ctx.day;
  if (typeof value !== "string") return String(value);
  if (value.startsWith("@")) return String(ctx.forms.card.asked[value.slice(1)]);
  if (value.startsWith("=")) return zone(ctx) === null ? "" : String(zone(ctx));
  if (value.startsWith("$")) {
    const own = ctx.it[value.slice(1)];
    return own === "UNKNOWN" || own === null || own === undefined ? null : String(own);
  }
  return value;
}
export function filled(ctx, words) {
  return words.replace(/\{([^}]+)\}/g, (_, name) => {
    const value = name.startsWith("$") ? ctx.it[name.slice(1)] : figureOf(ctx, name);
    if (value === null || value === undefined || value === "") return "…";
    return Number.isFinite(Number(value)) ? figure(value) : String(value);
  });
}
