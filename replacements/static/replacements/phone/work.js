// What a crew fills in: safe start, assembly checklist, the record of the work.
import { el, field, note } from "./asked.js";
import { draft, finish, known, nothing, saver, today } from "./drafts.js";
import * as store from "./store.js";
import { against, cautions, checked, pulled } from "./told.js";

export async function start(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "START", { fields: { on: await today(), traffic: "no" } });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const open = el("div", {});
  const groups = forms.start.filter((g) => pulled(it) || !g.pulled);
  const judge = () => {
    const ticks = groups
      .flatMap((g) => g.fields)
      .filter(
        (f) => f.kind === "tick" && !/(cave_in|rain)$/.test(f.name) && kept.fields[f.name] !== "on",
      );
    open.replaceChildren(
      ticks.length
        ? note(
            "error",
            el("strong", {}, "Do not start. "),
            `Not done: ${ticks.map((f) => f.label).join("; ")}.`,
          )
        : note(
            "caution",
            "All is ticked. The answers count when the program says that the start is on record; ",
            "until then the competent person decides by the paper sheet.",
          ),
    );
  };
  judge();
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        await finish(it, kept, { fields: { ...kept.fields } });
      },
    },
    ...groups.map((g) =>
      el(
        "fieldset",
        { class: "card" },
        el("legend", {}, g.title),
        ...g.fields.map((f) =>
          field(f, kept.fields, () => {
            save();
            judge();
          }),
        ),
      ),
    ),
    open,
    said,
    el("button", { type: "submit" }, "Record the start"),
  );
  return [
    el("h1", {}, "Safe start"),
    el("p", {}, `${it.number}, ${it.address}`),
    ...against(it),
    el("p", {}, "What is not answered was not done."),
    cautions(forms, "start", it),
    form,
  ].filter(Boolean);
}

export async function checklist(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "CHECKLIST", { answers: {} });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  // What the tool set in use says of a row goes before common practice.
  const ofSet = ({ criterion, low, high } = {}) =>
    criterion === undefined ? {} : { criterion, low, high };
  const rows = forms.checklist
    .filter((c) => c.key !== "TRACER_WIRE" || it.new_material !== "COPPER")
    .map((c) => ({ ...c, ...ofSet(it.checklist?.rows[c.key]), last: it.checklist?.rows[c.key] }));
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        const answers = Object.entries(kept.answers)
          .map(([check_key, a]) => ({
            check_key,
            passed: a.passed ?? null,
            measured: a.measured ?? null,
          }))
          .filter((a) => a.passed !== null || a.measured !== null);
        if (!answers.length) {
          said.textContent = "Nothing is answered yet.";
          return;
        }
        await finish(it, kept, { answers });
      },
    },
    ...rows.map((check) => checkRow(check, kept, save)),
    said,
    el("button", { type: "submit" }, "Record the answers"),
  );
  return [
    el("h1", {}, "Assembly checklist"),
    el("p", {}, `${it.number}, ${it.address}. Measure, don't judge by eye.`),
    ...(it.checklist ? checked(it.checklist) : []),
    cautions(forms, "checklist", it),
    form,
  ].filter(Boolean);
}

function checkRow(check, kept, save) {
  kept.answers[check.key] ??= {};
  const answer = kept.answers[check.key];
  const says = el("div", { "aria-live": "polite" });
  const judge = () => {
    const m = answer.measured;
    const off =
      check.answer === "NUMBER" &&
      m !== undefined &&
      m !== null &&
      ((check.low !== null && m < check.low) || (check.high !== null && m > check.high));
    says.replaceChildren(
      ...(answer.passed === false || off
        ? [
            note(
              check.stop ? "error" : "caution",
              check.stop ? "Do not pull. " : "",
              `${check.criterion}. Why it matters: ${check.why}.`,
            ),
          ]
        : []),
    );
  };
  judge();
  const control =
    check.answer === "YES"
      ? el(
          "div",
          { class: "choices" },
          ...[
            ["on", true, "Yes, seen"],
            ["off", false, "Not so"],
          ].map(([code, passed, label]) =>
            el(
              "label",
              {},
              el("input", {
                type: "radio",
                name: check.key,
                value: code,
                checked: answer.passed === passed,
                onchange: () => {
                  answer.passed = passed;
                  save();
                  judge();
                },
              }),
              label,
            ),
          ),
        )
      : el("input", {
          type: "number",
          step: "any",
          min: 0,
          inputmode: "decimal",
          "aria-label": `${check.shows}: ${check.label}, ${check.unit}`,
          value: answer.measured ?? "",
          oninput: (e) => {
            answer.measured = e.target.value === "" ? null : Number(e.target.value);
            save();
            judge();
          },
        });
  return el(
    "fieldset",
    { class: "answer" },
    el(
      "legend",
      {},
      `${check.shows}. `,
      el("span", { class: "soft" }, check.label),
      check.unit ? `, ${check.unit}` : "",
    ),
    el("span", { class: "hint" }, check.criterion),
    check.last?.by
      ? el(
          "p",
          {},
          "On record: ",
          el("span", { class: `level level-${check.last.level}` }, check.last.said),
          ` ${check.last.by}`,
        )
      : null,
    control,
    says,
  );
}

export async function record(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const back = it.given_back;
  const kept = await draft(it, "COMPLETION", {
    fields: back?.fields ?? {
      outcome: "REPLACED",
      finished_on: await today(),
      method_used: it.method,
      length_ft: it.length_ft ?? "",
    },
    photos: back?.photos ?? [],
    pull: back?.pull ?? null,
    log: null,
    machine: {},
    position: null,
  });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        await finish(it, kept, {
          fields: { ...kept.fields },
          photos: kept.photos,
          pull: kept.log ? null : (kept.pull ?? null),
          log: kept.log,
          machine: kept.machine,
        });
      },
    },
    ...forms.record.map((g) =>
      el(
        "fieldset",
        { class: "card" },
        el("legend", {}, g.title),
        mend(back, g.title),
        ...g.fields.map((f) => field(f, kept.fields, save)),
      ),
    ),
    photos(forms, kept, save, back),
    pullLog(forms, kept, save),
    said,
    el("button", { type: "submit" }, "Hand in"),
  );
  return [
    el("h1", {}, "Record the work"),
    el("p", {}, `${it.number}, ${it.address}`),
    back
      ? note("caution", `Your record was ${back.answer}. It stands below as you sent it.`)
      : null,
    cautions(forms, "record", it),
    form,
  ].filter(Boolean);
}

// The reviewer's words, beside what is to be mended.
function mend(back, part) {
  const named = Object.entries(back?.mend ?? {}).find(
    ([name]) => name.toLowerCase() === part.toLowerCase(),
  );
  return named ? note("caution", el("strong", {}, "To mend: "), named[1]) : null;
}

function photos(forms, kept, save, back) {
  const grid = el("div", { class: "photos" });
  const where = el(
    "p",
    { class: "soft", "aria-live": "polite" },
    kept.position ? "The place of this phone is noted with new photos." : "",
  );
  const draw = () =>
    grid.replaceChildren(
      ...forms.photos.map(({ kind, label }) => {
        const has = kept.photos.filter((p) => p.kind === kind);
        const shown = has.map((p) => {
          if (!p.blob) return el("span", { class: "soft" }, `${label}: sent before, kept`);
          const img = el("img", { alt: `${label}, taken` });
          img.src = URL.createObjectURL(p.blob);
          img.onload = () => URL.revokeObjectURL(img.src);
          return img;
        });
        return el(
          "div",
          { class: has.length ? "photo has" : "photo" },
          ...shown,
          mend(back, label),
          el(
            "label",
            {},
            has.length ? `${label}: take another` : `Photo: ${label}`,
            el("input", {
              type: "file",
              accept: "image/jpeg,image/png,image/heic,image/heif",
              capture: "environment",
              "data-kind": kind,
              onchange: async (e) => {
                for (const file of e.target.files)
                  kept.photos.push({
                    kind,
                    name: file.name || `${kind.toLowerCase()}.jpg`,
                    blob: new Blob([await file.arrayBuffer()], { type: file.type }),
                    position: kept.position,
                  });
                await save();
                draw();
              },
            }),
          ),
          has.length
            ? el(
                "button",
                {
                  type: "button",
                  class: "plain",
                  onclick: async () => {
                    kept.photos = kept.photos.filter((p) => p.kind !== kind);
                    await save();
                    draw();
                  },
                },
                "Remove",
              )
            : null,
        );
      }),
    );
  draw();
  const place = el(
    "button",
    {
      type: "button",
      class: "second",
      onclick: () => {
        if (!navigator.geolocation) {
          where.textContent = "This phone tells no place.";
          return;
        }
        where.textContent = "Looking for the place …";
        navigator.geolocation.getCurrentPosition(
          async ({ coords }) => {
            kept.position = {
              latitude: Number(coords.latitude.toFixed(6)),
              longitude: Number(coords.longitude.toFixed(6)),
              accuracy_m: Math.round(coords.accuracy),
            };
            kept.photos = kept.photos.map((p) => ({ ...p, position: p.position ?? kept.position }));
            await save();
            where.textContent = `Noted, good to about ${Math.round(coords.accuracy * 3.281)} ft.`;
          },
          () => {
            where.textContent = "The phone could not find its place; the photos go without.";
          },
          { enableHighAccuracy: true, timeout: 20000 },
        );
      },
    },
    "Note the place of this phone",
  );
  return el("fieldset", { class: "card" }, el("legend", {}, "Photos"), grid, place, where);
}

function pullLog(forms, kept, save) {
  const name = el(
    "p",
    { class: "soft", "aria-live": "polite" },
    kept.log ? `Chosen: ${kept.log.name}` : "",
  );
  const input = el("input", {
    type: "file",
    id: "pull-log",
    accept: ".csv,.txt,.tsv,text/csv,text/plain",
    onchange: async (e) => {
      const file = e.target.files[0];
      kept.log = file
        ? { name: file.name, blob: new Blob([await file.arrayBuffer()], { type: file.type }) }
        : null;
      await save();
      name.textContent = file ? `Chosen: ${file.name}` : "";
    },
  });
  return el(
    "fieldset",
    { class: "card" },
    el("legend", {}, "Log of the pull"),
    el(
      "div",
      { class: "field" },
      el("label", { for: "pull-log" }, "Log file of the puller"),
      input,
      name,
    ),
    el(
      "details",
      {},
      el("summary", {}, "The log holds pressure, not force"),
      ...forms.pull.map((f) => field({ ...f, initial: undefined }, kept.machine, save)),
    ),
  );
}
