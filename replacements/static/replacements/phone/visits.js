// Getting in: where consent stands, attempts, the owner's answer with a signature, appointments.
import { el, facts, field, note } from "./asked.js";
import { draft, finish, known, listed, nothing, saver, today } from "./drafts.js";
import * as outbox from "./outbox.js";
import * as signature from "./signature.js";
import * as store from "./store.js";
import { clock, moment } from "./words.js";

const STANDS = {
  GIVEN: "The owner has agreed",
  REFUSED: "The owner has refused",
  EFFORT_MADE: "Tried as the rule asks, no answer",
  OPEN: "The owner has not answered",
};
const KEPT = {
  BOOKED: "booked",
  KEPT: "kept",
  MISSED: "nobody came or was home",
  CANCELED: "called off",
};
const KINDS = ["ATTEMPT", "CONSENT", "APPOINTMENT", "CLOSING"];
export const standing = (access) => STANDS[access.state] ?? access.state;
const timed = (day, hours) => `${day}T${hours}`;

export async function access(id) {
  const it = await known(id);
  if (!it) return nothing();
  const a = it.access;
  const items = (await store.all("outbox"))
    .filter((i) => i.order === it.id && KINDS.includes(i.kind))
    .sort((x, y) => y.createdAt - x.createdAt);
  return [
    el("h1", {}, "Getting in"),
    el("p", {}, `${it.number}, ${it.address}`),
    note(
      a.may_start ? "success" : a.state === "REFUSED" ? "error" : "caution",
      el("strong", {}, `${standing(a)}.`),
      a.may_start ? "" : ` Do not start. ${a.missing ? `Missing: ${a.missing}.` : ""}`,
    ),
    facts([
      ["Asked so far", `${a.attempts_counted} attempts by ${a.methods_counted} methods`],
      [
        "Last answer",
        a.answer
          ? `${a.answer.toLowerCase()} on ${a.answered_on}, ${a.answer_capacity.toLowerCase()}`
          : "",
      ],
      [
        "Who can be asked",
        a.people
          .map((p) => `${p.capacity_label}${p.language_name ? `, speaks ${p.language_name}` : ""}`)
          .join("; "),
      ],
    ]),
    el(
      "div",
      { class: "phone-steps" },
      el("a", { class: "button", href: `#/order/${it.id}/attempt` }, "Record an attempt"),
      el("a", { class: "button", href: `#/order/${it.id}/consent` }, "Take the owner's answer"),
      el(
        "a",
        { class: "button second", href: `#/order/${it.id}/appointment` },
        "Book an appointment",
      ),
    ),
    el(
      "section",
      {},
      el("h2", {}, "Appointments"),
      a.appointments.length
        ? el("ul", { class: "outbox" }, ...a.appointments.map((each) => booked(it, each, items)))
        : el("p", { class: "empty" }, "None is booked."),
    ),
    a.own_attempts.length
      ? el(
          "section",
          {},
          el("h2", {}, "Your company's attempts"),
          el(
            "ul",
            {},
            ...a.own_attempts.map((t) =>
              el(
                "li",
                {},
                `${moment(t.at)}: ${t.method_label}${t.outcome ? `, ${t.outcome}` : ""}`,
              ),
            ),
          ),
        )
      : null,
    items.length ? el("section", {}, el("h2", {}, "Filled in on this phone"), listed(items)) : null,
  ].filter(Boolean);
}

function booked(order, each, items) {
  const sent = items.find((i) => i.kind === "CLOSING" && i.appointment === each.id);
  const close = (state) =>
    outbox.enqueue({
      key: crypto.randomUUID(),
      order: order.id,
      number: order.number,
      address: order.address,
      kind: "CLOSING",
      appointment: each.id,
      fields: { state },
      seen: order,
      version: "",
    });
  return el(
    "li",
    { class: "card" },
    el("strong", {}, `${moment(each.starts_at)} to ${clock(each.ends_at)}`),
    ` ${each.purpose_label}, with the ${each.with_whom.toLowerCase()}`,
    each.note ? el("p", {}, each.note) : null,
    el("p", {}, el("span", { class: "state" }, KEPT[sent?.fields.state ?? each.state])),
    each.state === "BOOKED" && !sent
      ? el(
          "div",
          { class: "choices three" },
          ...["KEPT", "MISSED", "CANCELED"].map((state) =>
            el(
              "button",
              { type: "button", class: "second", onclick: () => close(state) },
              { KEPT: "Kept", MISSED: "Nobody home", CANCELED: "Called off" }[state],
            ),
          ),
        )
      : null,
  );
}

// A screen of plain questions: attempt, appointment.
async function asked(id, kind, title, button, fresh) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, kind, { fields: fresh(await today(), it), version: "" });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        await finish(it, kept, { fields: { ...kept.fields } }, "access");
      },
    },
    el(
      "fieldset",
      { class: "card" },
      ...forms[kind.toLowerCase()].map((f) => field(f, kept.fields, save)),
    ),
    said,
    el("button", { type: "submit" }, button),
  );
  return [el("h1", {}, title), el("p", {}, `${it.number}, ${it.address}`), form];
}

export const attempt = (id) =>
  asked(id, "ATTEMPT", "Record an attempt", "Record the attempt", (day) => ({
    at: timed(day, clock(Date.now())),
    method: "IN_PERSON",
    addressed_to: "OWNER",
  }));
export const appointment = (id) =>
  asked(id, "APPOINTMENT", "Book an appointment", "Book it", (day) => ({
    purpose: "WORK",
    starts_at: timed(day, "08:00"),
    ends_at: timed(day, "12:00"),
    with_whom: "OWNER",
  }));

export async function consent(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "CONSENT", {
    fields: {
      answer: "GIVEN",
      answered_on: await today(),
      capacity: "OWNER",
      language: it.access.people[0]?.language || "en",
    },
    strokes: [],
    photo: null,
    version: it.access.version,
  });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const wrong = el("div", { "aria-live": "assertive" });
  const words = el("blockquote", { class: "consent-words" });
  const save = saver(kept, said);
  const tell = () => {
    const text = forms.consent_words[kept.fields.language];
    words.lang = text ? kept.fields.language : "en";
    words.replaceChildren(
      text ?? forms.consent_words.en,
      text || !kept.fields.language
        ? ""
        : el(
            "p",
            { class: "soft" },
            "Have these words read out in the owner's language, or use the utility's translated form.",
          ),
    );
  };
  tell();
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        const missing = unsigned(kept);
        wrong.replaceChildren(missing ? note("error", missing) : "");
        if (!missing)
          await finish(
            it,
            kept,
            { fields: { ...kept.fields }, paper: await signedPaper(it, forms, kept) },
            "access",
          );
      },
    },
    el(
      "fieldset",
      { class: "card" },
      ...forms.consent.map((f) =>
        field(f, kept.fields, () => {
          save();
          tell();
        }),
      ),
    ),
    el(
      "fieldset",
      { class: "card" },
      el("legend", {}, "Sign here"),
      words,
      ...signature.pad(kept, save),
      photographed(kept, save),
    ),
    wrong,
    said,
    el("button", { type: "submit" }, "Record the answer"),
  );
  return [
    el("h1", {}, "The owner's answer"),
    el("p", {}, `${it.number}, ${it.address}`),
    el("p", { class: "soft" }, "A tenant can let you in, but cannot agree for the owner."),
    form,
  ];
}

function unsigned(kept) {
  if (kept.fields.answer !== "GIVEN") return "";
  if (!kept.fields.given_by?.trim()) return "Write the name of the person who signs.";
  return kept.photo || signature.isSigned(kept.strokes)
    ? ""
    : "Let the owner sign, or take a photo of the signed form.";
}

async function signedPaper(it, forms, kept) {
  if (kept.photo) return kept.photo;
  if (!signature.isSigned(kept.strokes)) return null;
  const f = kept.fields;
  const words = forms.consent_words[f.language] ?? forms.consent_words.en;
  const lines = [
    `${it.address}, ${it.city}. ${it.number}, ${it.location_id}.`,
    words,
    `${f.given_by}, ${f.capacity.toLowerCase()}, ${f.answered_on}: ${f.answer.toLowerCase()}`,
  ];
  return { name: `${it.number}_consent.png`, blob: await signature.paper(lines, kept.strokes) };
}

function photographed(kept, save) {
  const name = el(
    "p",
    { class: "soft", "aria-live": "polite" },
    kept.photo ? `Chosen: ${kept.photo.name}` : "",
  );
  const input = el("input", {
    type: "file",
    id: "consent-paper",
    accept: "image/jpeg,image/png,image/heic,image/heif,application/pdf",
    onchange: async (e) => {
      const file = e.target.files[0];
      kept.photo = file
        ? { name: file.name, blob: new Blob([await file.arrayBuffer()], { type: file.type }) }
        : null;
      await save();
      name.textContent = file ? `Chosen: ${file.name}` : "";
    },
  });
  return el(
    "div",
    { class: "field" },
    el("label", { for: "consent-paper" }, "Or a photo of the signed form"),
    input,
    name,
  );
}
