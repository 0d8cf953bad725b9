// Small builders of what a screen is made of. Text is set as text, never as markup.
import { nameOf, read, shown, unitOf } from "./sizes.js";
import { chosen, say } from "./words.js";

export function el(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "value") made.value = value;
    else if (key === "checked") made.checked = value;
    else made.setAttribute(key, value === true ? "" : key === "aria-label" ? say(value) : value);
  }
  made.append(
    ...inside
      .filter((part) => part !== null && part !== undefined && part !== false)
      .map((part) => (part instanceof Node || attributes.lang ? part : say(part))),
  );
  return made;
}

export function field(asked, fields, save) {
  const id = `f-${asked.name}`;
  const value = fields[asked.name] ?? asked.initial ?? "";
  const set = (given) => {
    fields[asked.name] = given;
    save();
  };
  if (asked.kind === "tick") {
    return el(
      "label",
      { class: "tick", for: id },
      el("input", {
        type: "checkbox",
        id,
        name: asked.name,
        checked: value === "on",
        onchange: (e) => set(e.target.checked ? "on" : ""),
      }),
      asked.label,
    );
  }
  const unit = asked.kind === "number" ? unitOf(asked.label) : "";
  if (unit) return sized(asked, unit, id, value, set);
  let control;
  if (asked.kind === "choice") {
    control = el(
      "select",
      { id, name: asked.name, onchange: (e) => set(e.target.value) },
      ...asked.choices.map(([code, label]) => el("option", { value: code }, label)),
    );
    control.value = value || asked.choices[0][0];
  } else if (asked.kind === "words") {
    control = el("textarea", {
      id,
      name: asked.name,
      rows: 4,
      oninput: (e) => set(e.target.value),
    });
    control.value = value;
  } else {
    const type = { day: "date", moment: "datetime-local", number: "number" }[asked.kind] ?? "text";
    control = el("input", {
      id,
      name: asked.name,
      type,
      value,
      step: type === "number" ? "any" : null,
      min: type === "number" ? 0 : null,
      inputmode: type === "number" ? "decimal" : null,
      oninput: (e) => set(e.target.value),
    });
  }
  return el(
    "div",
    { class: "field" },
    el("label", { for: id }, asked.label),
    asked.help ? el("span", { class: "hint" }, asked.help) : null,
    control,
  );
}

// A size or pressure, typed in the crew's units; what it is in the program's stands below.
function sized(asked, unit, id, value, set) {
  const told = el("span", { class: "hint", "aria-live": "polite" });
  const tell = (text, number) => {
    const same = !chosen.metric && text.trim() === String(number);
    if (text.trim() && number === null)
      told.textContent = say(`This can't be read. Write it as 3/8, 1 1/4, 0.375 or 9.5 mm.`);
    else told.textContent = number === null || same ? "" : `= ${number} ${unit}`;
  };
  const oninput = (e) => {
    const number = read(e.target.value, unit);
    tell(e.target.value, number);
    set(number === null ? "" : String(number));
  };
  const inputmode = unit === "in." && !chosen.metric ? "text" : "decimal";
  const begun = shown(value, unit);
  if (begun) tell(begun, Number(value));
  const label = say(asked.label).replace(/, (ft|in\.|psi)$/, `, ${nameOf(unit)}`);
  return el(
    "div",
    { class: "field" },
    el("label", { for: id, lang: chosen.language }, label),
    asked.help ? el("span", { class: "hint" }, asked.help) : null,
    el("input", { id, name: asked.name, type: "text", inputmode, value: begun, oninput }),
    told,
  );
}

export const facts = (rows) =>
  el(
    "dl",
    { class: "facts" },
    ...rows
      .filter(([, value]) => value !== null && value !== undefined && value !== "")
      .flatMap(([name, value]) => [
        el("dt", {}, name),
        el("dd", {}, value instanceof Node ? value : String(value)),
      ]),
  );
export const note = (level, ...inside) =>
  el(
    "div",
    { class: `note note-${level}`, role: level === "error" ? "alert" : "status" },
    ...inside,
  );
