// The card at the pit: one order, the next check only. Its steps and questions are data; an answer
// is kept as it is given, what stops can't be passed over, and the start opens with the last one.
import { el, note } from "./asked.js";
import { measure, question, statementsOf } from "./card_asked.js";
import {
  BEFORE,
  KEPT_LAST,
  confirmed,
  findings,
  lacking,
  opened,
  passed,
  rowsOf,
  steps,
} from "./card_data.js";
import { finish, handOver, nothing, saver } from "./drafts.js";
import { lit } from "./drawing.js";
import * as store from "./store.js";
import { against, limits, pulled } from "./told.js";
import { photos, pullLog } from "./work.js";

export const before = (id, key) => card(id, BEFORE, key);
export const after = (id, key) => card(id, ["record"], key);

// The next thing to do of an order, for its page.
export async function next(id) {
  const ctx = await opened(id);
  if (!ctx) return null;
  const sent = (await store.all("outbox")).some(
    (i) =>
      i.order === ctx.it.id && i.kind === "START" && i.state !== "REFUSED" && sameDay(i, ctx.day),
  );
  const started = sent || ctx.it.started_on === ctx.day || Boolean(ctx.it.given_back);
  const all = steps(ctx, started ? ["record"] : BEFORE);
  const open = all.filter((step) => !passed(ctx, step));
  return { started, total: all.length, left: open.length, title: open[0]?.title ?? "" };
}
const sameDay = (item, day) => item.fields?.on === day;

async function card(id, sections, key) {
  const ctx = await opened(id);
  if (!ctx) return nothing();
  const all = steps(ctx, sections);
  const open = all.findIndex((step) => !passed(ctx, step));
  const last = open < 0 ? all.length : open;
  const asked = key === "end" ? all.length : all.findIndex((step) => step.key === key);
  const at = asked < 0 ? last : Math.min(asked, last);
  const where = sections === BEFORE ? "card" : "done";
  // The answer may have opened or closed steps: the next one is looked for anew.
  const onward = () => {
    const now = steps(ctx, sections);
    const here = now.findIndex((step) => step.key === all[at].key);
    location.hash = `#/order/${ctx.it.id}/${where}/${now[here + 1]?.key ?? "end"}`;
  };
  const head = [
    el(
      "p",
      { class: "card-where" },
      el(
        "a",
        { href: `#/order/${ctx.it.id}` },
        el("span", { lang: "en" }, ctx.it.address || ctx.it.number),
      ),
      " ",
      el("span", {}, `Step ${Math.min(at + 1, all.length)} of ${all.length}`),
    ),
    el("progress", { max: all.length, value: at, "aria-label": "Steps done" }),
  ];
  const foot = el(
    "p",
    {},
    at > 0
      ? el(
          "a",
          { class: "button second", href: `#/order/${ctx.it.id}/${where}/${all[at - 1].key}` },
          "Back one step",
        )
      : null,
  );
  if (at >= all.length)
    return [...head, ...(sections === BEFORE ? await ready(ctx) : handIn(ctx)), foot];
  return [...head, ...one(ctx, all[at], onward), foot];
}

// One step: what one tap confirms, what is measured or chosen, and what the rules say of it.
function one(ctx, step, onward) {
  const target = { string: ctx.string, start: ctx.start, record: ctx.record }[step.of];
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const [keepAnswers, keepCard] = [saver(target, said), saver(ctx.card, said)];
  const keepRows = saver(ctx.string, said);
  const save = () => Promise.all([keepAnswers(), keepCard(), keepRows()]);
  const body = el("div", { class: "card-body" });
  const says = el("div", { "aria-live": "assertive" });
  const rows = rowsOf(ctx, step);
  const statements = statementsOf(ctx, step, rows);
  const plain = (step.ask ?? []).length + rows.filter((row) => !confirmed(row)).length;
  const only = plain === 1 && !statements.length;
  let warned = false;
  let tried = false;
  ctx.touched = new Set(
    statements.filter((s) => ctx.card.said[s.key] === false).flatMap((s) => s.names),
  );
  // Until the step is tried only what was answered is judged: red that is always there wears out.
  const judge = () => {
    const found = findings(ctx, step);
    const shown = found.filter((f) => tried || f.fields.some((name) => ctx.touched.has(name)));
    says.replaceChildren(...told(shown));
    return found;
  };
  const forward = async () => {
    for (const each of statements) if (ctx.card.said[each.key] !== false) each.confirm();
    const missing = step.of === "record" ? lacking(ctx, step) : [];
    tried = true;
    const found = judge();
    if (found.some((f) => f.level === "STOP") || missing.length) {
      if (missing.length) says.append(note("caution", `Not answered yet: ${missing.join("; ")}`));
      await save();
      draw();
      says.scrollIntoView({ block: "nearest" });
      return;
    }
    if (found.length && !warned) {
      warned = true;
      button.textContent = "";
      button.append(el("span", {}, "I have seen it: go on"));
      await save();
      return;
    }
    ctx.card.done[step.key] = true;
    await save();
    onward();
  };
  const button = el(
    "button",
    { type: "button", class: "card-go", onclick: forward },
    statements.length ? "All of this is so" : "Next",
  );
  const changed = (auto) => async () => {
    await save();
    if (auto && only && !judge().length && !lacking(ctx, step).length) return forward();
    for (const each of statements) each.draw();
    judge();
  };
  const draw = () =>
    body.replaceChildren(
      ...[
        ...(step.ask ?? []).map((names) => question(ctx, step, target, names, changed, draw)),
        ...rows.filter((row) => !confirmed(row)).map((row) => measure(ctx, step, row, changed)),
        statements.length
          ? el("ul", { class: "card-so" }, ...statements.map((each) => each.draw(save, judge)))
          : null,
      ].filter(Boolean),
    );
  draw();
  judge();
  return [
    el("h1", {}, step.title),
    step.part && pulled(ctx.it) ? lit(ctx.it.drawing, step.part) : null,
    ...cautionsOf(ctx, step),
    body,
    says,
    button,
    step.of === "record" ? skip(ctx, step, save, onward) : null,
    said,
  ].filter(Boolean);
}

// A record may be handed in with a gap, said with the stops before it goes; a start may not.
const skip = (ctx, step, save, onward) =>
  el(
    "button",
    {
      type: "button",
      class: "second",
      onclick: async () => {
        ctx.card.done[step.key] = true;
        await save();
        onward();
      },
    },
    "Leave it open",
  );

function cautionsOf(ctx, step) {
  const texts = (step.cautions ?? []).flatMap((name) => ctx.forms.caution_steps?.[name] ?? []);
  if (!texts.length) return [];
  return [el("ul", { class: "card-cautions" }, ...texts.map((text) => el("li", {}, text)))];
}

const told = (found) =>
  found.map((f) =>
    note(
      f.level === "STOP" ? "error" : "caution",
      el("strong", {}, f.level === "STOP" ? "Stop. " : "Caution. "),
      f.shows ? el("span", {}, f.shows) : null,
      f.shows ? ": " : null,
      el("span", {}, f.message),
      f.shows ? ". " : " ",
      el("strong", {}, f.do ?? ""),
    ),
  );

// The last screen: what still stands against the start, and the start itself.
async function ready(ctx) {
  const { it } = ctx;
  const waits = (await store.all("outbox")).filter((i) => i.order === it.id && i.state !== "SENT");
  const agreed = waits.some((i) => i.kind === "CONSENT" && i.fields?.answer === "GIVEN");
  const kept = (it.against_start ?? []).filter((f) => !f.rule.startsWith("ASSEMBLY_"));
  const stops = kept.filter((f) => f.level === "STOP" && !(agreed && /CONSENT/.test(f.rule)));
  const record = { ...it, against_start: [...stops, ...kept.filter((f) => f.level === "CAUTION")] };
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const cautions = ["LOADED", "LEAVING"].flatMap((name) => ctx.forms.caution_steps?.[name] ?? []);
  return [
    el("h1", {}, stops.length ? "Do not start" : "Everything is answered"),
    ...against(record),
    pulled(it) ? limits(it) : null,
    pulled(it)
      ? el("ul", { class: "card-cautions" }, ...cautions.map((text) => el("li", {}, text)))
      : null,
    el(
      "p",
      {},
      "The answers count when the program says that the start is on record; " +
        "until then the competent person decides by the paper sheet.",
    ),
    stops.length
      ? null
      : el(
          "button",
          { type: "button", class: "card-go", onclick: () => begin(ctx) },
          "Start the work",
        ),
    said,
  ].filter(Boolean);
}

async function begin(ctx) {
  const answers = Object.entries(ctx.string.answers)
    .map(([check_key, a]) => ({
      check_key,
      passed: a.passed ?? null,
      measured: a.measured ?? null,
    }))
    .filter((a) => a.passed !== null || a.measured !== null);
  const kept = KEPT_LAST.map((name) => [
    name,
    ctx.start.fields[name] ?? ctx.string.answers[name]?.measured,
  ]);
  const values = Object.fromEntries(
    kept.filter(([, value]) => value !== undefined && value !== "" && value !== null),
  );
  await store.put("kept", { key: "last", values: { ...ctx.last, ...values } });
  if (pulled(ctx.it) && answers.length) await handOver(ctx.it, ctx.string, { answers });
  await finish(ctx.it, ctx.start, { fields: { ...ctx.start.fields } });
}

function handIn(ctx) {
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(ctx.record, said);
  const send = () =>
    finish(ctx.it, ctx.record, {
      fields: { ...ctx.record.fields },
      photos: ctx.record.photos,
      pull: ctx.record.log ? null : (ctx.record.pull ?? null),
      log: ctx.record.log,
      machine: ctx.record.machine,
    });
  return [
    el("h1", {}, "Photos and log"),
    photos(ctx.forms, ctx.record, save, ctx.it.given_back),
    pulled(ctx.it) && ["REPLACED", "STOPPED"].includes(ctx.record.fields.outcome)
      ? pullLog(ctx.forms, ctx.record, save)
      : null,
    said,
    el("button", { type: "button", class: "card-go", onclick: send }, "Hand in"),
    el("p", {}, el("a", { href: `#/order/${ctx.it.id}/record` }, "Every field on one page")),
  ].filter(Boolean);
}
