// What is not sent yet, what was sent, and what changed at the office in the meantime.
import { el, note } from "./asked.js";
import { bad, KINDS, listed, ROUTES, STATES } from "./drafts.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";
import { signIn } from "./told.js";

export async function waiting() {
  const items = (await store.all("outbox")).sort((a, b) => b.createdAt - a.createdAt);
  const open = items.filter((i) => i.state !== "SENT");
  return [
    el("h1", {}, "Not sent yet"),
    await signIn(),
    open.length ? listed(open) : el("p", { class: "empty" }, "Everything is sent."),
    open.length ? el("button", { onclick: () => outbox.wake() }, "Try now") : null,
    items.length > open.length
      ? el(
          "details",
          {},
          el("summary", {}, `Sent from this phone: ${items.length - open.length}`),
          listed(items.filter((i) => i.state === "SENT").slice(0, 50)),
        )
      : null,
  ].filter(Boolean);
}

const SHOWN = {
  state_label: "State",
  length_ft: "Length, ft",
  cover_ft: "Cover, ft",
  method: "Method",
  old_material: "Old pipe",
  old_nominal_in: "Old size, in.",
  new_material: "New pipe",
  new_nominal_in: "New size, in.",
  new_grade: "New grade",
  soil: "Soil",
  groundwater: "Groundwater",
  bends: "Bends",
  joints: "Joints",
  note: "Note",
  due_on: "Due",
};
const ANSWERS = {
  state: "Where consent stands",
  answer: "The last answer",
  answered_on: "Answered on",
};
const shown = (value) =>
  value === null || value === undefined || value === ""
    ? "not stated"
    : typeof value === "object"
      ? JSON.stringify(value)
      : String(value);

export async function item(key) {
  const it = await store.get("outbox", key);
  if (!it)
    return [
      el("h1", {}, "Not here any more"),
      el("a", { class: "button", href: "#/outbox" }, "Not sent yet"),
    ];
  const reopen = async (version) => {
    await store.put("drafts", {
      key: `${it.order}-${it.kind}`,
      order: it.order,
      kind: it.kind,
      version: version ?? it.version,
      fields: it.fields ?? {},
      answers: Object.fromEntries((it.answers ?? []).map((a) => [a.check_key, a])),
      photos: it.photos?.filter((p) => p.blob || p.id) ?? [],
      pull: it.pull ?? null,
      log: it.log ?? null,
      machine: it.machine ?? {},
      position: null,
      photo: it.paper ?? null,
      strokes: [],
    });
    await outbox.discard(key);
    location.hash = `#/order/${it.order}/${ROUTES[it.kind]}`;
  };
  const throwAway = el(
    "button",
    {
      class: "danger",
      onclick: async () => {
        if (confirm("Discard what was filled in? It cannot be brought back.")) {
          await outbox.discard(key);
          location.hash = "#/outbox";
        }
      },
    },
    "Discard it",
  );
  const parts = [
    el("h1", {}, KINDS[it.kind]),
    el("p", {}, `${it.number}, ${it.address ?? ""}`),
    el(
      "p",
      {},
      el(
        "span",
        {
          class: `level level-${it.state === "SENT" ? "GOOD" : bad(it.state) ? "STOP" : "CAUTION"}`,
        },
        STATES[it.state],
      ),
    ),
  ];
  if (it.state !== "SENT" && it.says.length)
    parts.push(note(bad(it.state) ? "error" : "caution", ...it.says.map((s) => el("p", {}, s))));
  if (it.state === "CONFLICT" && it.now) parts.push(...conflict(it, reopen));
  if (it.state === "REFUSED" && it.kind !== "CLOSING")
    parts.push(el("button", { onclick: () => reopen() }, "Put it right and send again"));
  if (it.state === "REFUSED" && it.mayGo)
    parts.push(
      el(
        "button",
        {
          class: "second",
          onclick: () =>
            outbox
              .change(key, { despite: true, state: "WAITING", nextAt: 0, says: [] })
              .then(outbox.sendAll),
        },
        "Send it as it is",
      ),
    );
  if (it.state === "SIGN_IN")
    parts.push(el("a", { class: "button", href: "/sign-in/?next=/work/phone/" }, "Sign in"));
  if (it.state === "WAITING") parts.push(el("button", { onclick: () => outbox.wake() }, "Try now"));
  if (it.state === "SENT" && it.answer?.findings?.length)
    parts.push(
      el("h2", {}, "The reviewer will see"),
      ...it.answer.findings.map((f) =>
        el("p", {}, el("span", { class: `level level-${f.level}` }, f.level), ` ${f.message}`),
      ),
    );
  if (bad(it.state)) parts.push(throwAway);
  return parts;
}

function conflict(it, reopen) {
  const ofConsent = it.kind === "CONSENT";
  const [names, seen] = ofConsent ? [ANSWERS, it.seen.access] : [SHOWN, it.seen];
  const rows = Object.keys(names).filter((name) => shown(seen[name]) !== shown(it.now[name]));
  const sends = ofConsent || ["RELEASED", "RETURNED"].includes(it.now.state);
  return [
    el(
      "div",
      { class: "table-box" },
      el(
        "table",
        { class: "changes" },
        el("caption", {}, "What changed in the meantime"),
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            ...["", "When you filled it in", "Now"].map((h) => el("th", { scope: "col" }, h)),
          ),
        ),
        el(
          "tbody",
          {},
          ...rows.map((name) =>
            el(
              "tr",
              {},
              el("th", { scope: "row" }, names[name]),
              el("td", {}, shown(seen[name])),
              el("td", {}, shown(it.now[name])),
            ),
          ),
        ),
      ),
    ),
    sends
      ? el(
          "button",
          {
            onclick: () =>
              outbox
                .change(it.key, {
                  version: it.now.version,
                  seen: ofConsent ? { ...it.seen, access: it.now } : it.now,
                  state: "WAITING",
                  nextAt: 0,
                  says: [],
                })
                .then(outbox.sendAll),
          },
          "It still holds: send it",
        )
      : note(
          "caution",
          "The order takes nothing more. Call the office; what you filled in stays here.",
        ),
    sends
      ? el("button", { class: "second", onclick: () => reopen(it.now.version) }, "Correct it first")
      : null,
  ].filter(Boolean);
}
