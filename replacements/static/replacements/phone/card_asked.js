// How the card asks: statements that one tap confirms, values to tap, fields to type into.
import { el, field } from "./asked.js";
import { confirmed, figureOf, filled, holds } from "./card_data.js";
import { figure } from "./rules.js";

const INCH = {
  0.03125: "1/32",
  0.0625: "1/16",
  0.125: "1/8",
  0.1875: "3/16",
  0.25: "1/4",
  0.3125: "5/16",
  0.375: "3/8",
};

// What one tap confirms: rows that are seen, and statements that stand for fields.
export function statementsOf(ctx, step, rows) {
  const target = step.of === "record" ? ctx.record : ctx.start;
  const ofRows = rows.filter(confirmed).map((row) => ({
    key: row.key,
    names: [row.key],
    text: () => row.label,
    value: row.so === null ? "" : `${figure(row.so)} ${unit(row)}`,
    more: () => row.criterion,
    stop: row.stop,
    last: row.onRecord.level === "GOOD" ? `${row.onRecord.said} ${row.onRecord.by}` : "",
    confirm: () => {
      const value = row.so === null ? { passed: true } : { measured: row.so };
      ctx.string.answers[row.key] = value;
    },
    deny: () => {
      ctx.string.answers[row.key] =
        row.so === null ? { passed: false } : { measured: null, passed: false };
    },
    editors: () => (row.so === null ? [] : [measure(ctx, step, row, () => () => null)]),
  }));
  const ofFields = (step.so ?? [])
    .filter((each) => holds(ctx, each.only))
    .map((each, at) => ({
      key: `${step.key}.${at}`,
      names: Object.keys(each.sets),
      text: () => filled(ctx, each.says),
      more: () => "",
      stop: step.of === "start",
      last: "",
      confirm: () => {
        for (const [name, value] of Object.entries(each.sets)) {
          const set = figureOf(ctx, value);
          if (set !== null) target.fields[name] = set;
        }
      },
      deny: () => {
        for (const [name, value] of Object.entries(each.sets))
          target.fields[name] = value === "" && step.of === "start" ? "on" : "";
      },
      editors: (changed) =>
        Object.keys(each.sets)
          .filter((name) => ctx.forms.card.fields[name].kind !== "tick")
          .map((name) => field(ctx.forms.card.fields[name], target.fields, changed)),
    }));
  return [...ofRows, ...ofFields].map((each) => statement(ctx, each));
}

function statement(ctx, each) {
  const box = el("li", {});
  let keep = () => null;
  let judge = () => null;
  const draw = (save, again) => {
    if (save) [keep, judge] = [save, again];
    const no = ctx.card.said[each.key] === false;
    box.className = no ? "not-so" : each.stop ? "stop-row" : "";
    box.replaceChildren(
      el(
        "div",
        {},
        el("span", {}, each.text()),
        each.value ? el("strong", { class: "card-value" }, each.value) : null,
        each.more() ? el("span", { class: "hint" }, each.more()) : null,
        each.last ? el("span", { class: "hint" }, "On record: ", el("span", {}, each.last)) : null,
      ),
      el(
        "button",
        {
          type: "button",
          class: "plain",
          "aria-pressed": String(no),
          onclick: async () => {
            if (no) delete ctx.card.said[each.key];
            else ctx.card.said[each.key] = false;
            no ? each.confirm() : each.deny();
            for (const name of each.names) ctx.touched.add(name);
            await keep();
            draw();
            judge();
          },
        },
        no ? "It is so after all" : "Not so",
      ),
      ...(no
        ? each.editors(async () => {
            await keep();
            judge();
          })
        : []),
    );
    return box;
  };
  return { ...each, draw };
}

// A question by itself: values to tap where there are such, else a field; a+b is asked once.
export function question(ctx, step, target, names, changed, redraw) {
  const apart = `${step.key}.${names}.apart`;
  const both = names.split("+");
  if (both.length > 1 && ctx.card.said[apart])
    return el("div", {}, ...both.map((name) => asked(ctx, step, target, [name], changed)));
  const shown = asked(ctx, step, target, both, changed);
  if (both.length > 1)
    shown.append(
      el(
        "button",
        {
          type: "button",
          class: "plain",
          onclick: () => {
            ctx.card.said[apart] = true;
            redraw();
          },
        },
        "Not the same at both ends",
      ),
    );
  return shown;
}

export function asked(ctx, step, target, names, changed) {
  const one = ctx.forms.card.fields[names[0]];
  const label = names.length > 1 ? (step.label?.[names[0]] ?? one.label) : one.label;
  const set = (value, auto) => {
    for (const name of names) {
      target.fields[name] = value;
      ctx.touched.add(name);
    }
    return changed(auto)();
  };
  const offered = offeredOf(step, names[0], one);
  if (!offered.length || step.choose?.[names[0]] === "last") {
    const fields = { [one.name]: target.fields[names[0]] };
    const made = field({ ...one, label }, fields, () => set(fields[one.name], false));
    if (ctx.last[names[0]] && ctx.last[names[0]] === target.fields[names[0]])
      made.append(el("span", { class: "hint" }, "As last time: look whether it still holds."));
    return made;
  }
  return choices(label, offered, target.fields[names[0]], (value) => set(value, true));
}

function offeredOf(step, name, one) {
  const values = step.choose?.[name];
  if (Array.isArray(values))
    return values.map((value) => [value, value === "" ? "none needed" : String(value)]);
  if (one.kind === "choice") return one.choices.filter(([code]) => code !== "");
  return [];
}

function choices(label, offered, value, set) {
  const buttons = offered.map(([code, words]) =>
    el(
      "button",
      {
        type: "button",
        class: String(code) === String(value) ? "" : "second",
        "aria-pressed": String(String(code) === String(value)),
        onclick: () => set(code),
      },
      words,
    ),
  );
  const box = el("fieldset", { class: "card-choices" }, el("legend", {}, label), ...buttons);
  for (const each of buttons)
    each.addEventListener("click", () => {
      for (const other of buttons) other.className = other === each ? "" : "second";
    });
  return box;
}

const unit = (row) => (row.unit === "in" ? "in." : row.unit);

export function measure(ctx, step, row, changed) {
  const answer = ctx.string.answers[row.key] ?? {};
  const set = (value, auto) => {
    ctx.string.answers[row.key] = { measured: value };
    ctx.touched.add(row.key);
    return changed(auto)();
  };
  const values = step.choose?.[row.key];
  const label = `${row.label}, ${unit(row)}`;
  const hint = el("span", { class: "hint" }, row.criterion);
  if (Array.isArray(values)) {
    const shown = values.map((value) => [value, `${INCH[value] ?? figure(value)} ${unit(row)}`]);
    const box = choices(row.label, shown, answer.measured, (value) => set(value, true));
    box.append(hint);
    return box;
  }
  const last = values === "last" ? ctx.last[row.key] : undefined;
  const asked = { name: row.key, label, kind: "number", help: row.criterion };
  const fields = { [row.key]: answer.measured ?? "" };
  const number = () => (fields[row.key] === "" ? null : Number(fields[row.key]));
  const made = field(asked, fields, () => set(number(), false));
  if (last !== undefined && (answer.measured ?? null) === null)
    made.append(el("span", { class: "hint" }, `Last time: ${figure(last)} ${unit(row)}`));
  return made;
}
