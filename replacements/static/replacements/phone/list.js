// The list of orders, and one order with all that the crew must know before it starts.
import { el, facts, note } from "./asked.js";
import { known, listed, nothing, OPEN } from "./drafts.js";
import * as store from "./store.js";
import { against, cautions, checked, pulled, say, signIn } from "./told.js";
import { standing } from "./visits.js";

export async function orders() {
  const [rows, items] = [await store.all("orders"), await store.all("outbox")];
  rows.sort(
    (a, b) => (a.due_on ?? "9").localeCompare(b.due_on ?? "9") || a.number.localeCompare(b.number),
  );
  const waits = (order) => items.filter((i) => i.order === order.id && OPEN.has(i.state)).length;
  const done = (order) =>
    items.some(
      (i) =>
        i.order === order.id &&
        i.kind === "COMPLETION" &&
        i.state === "SENT" &&
        i.version === order.version,
    );
  return [
    el("h1", {}, "Orders to be done"),
    await signIn(),
    rows.length
      ? el(
          "ul",
          { class: "phone-list" },
          ...rows.map((order) =>
            el(
              "li",
              {},
              el(
                "a",
                { href: `#/order/${order.id}`, class: order.returned_because ? "returned" : "" },
                el("strong", {}, order.address || order.location_id),
                `${order.number}, ${order.old_pipe}`,
                order.returned_because ? el("div", {}, "Came back with reasons") : null,
                order.gone ? el("div", {}, "No longer in the list; see what waits") : null,
                done(order) ? el("div", {}, "Record sent") : null,
                waits(order) ? el("div", {}, `${waits(order)} not sent yet`) : null,
              ),
            ),
          ),
        )
      : el(
          "p",
          { class: "empty" },
          "No order is released to your company, or this phone has not fetched them yet. ",
          "Open this page once with a network.",
        ),
    el("p", {}, el("a", { class: "button second", href: "/work/orders/" }, "Office pages")),
  ].filter(Boolean);
}

const inWords = (code) => code.toLowerCase().replaceAll("_", " ");

export async function order(id) {
  const it = await known(id);
  if (!it) return nothing();
  const forms = await store.get("kept", "forms");
  const items = (await store.all("outbox"))
    .filter((i) => i.order === it.id)
    .sort((a, b) => b.createdAt - a.createdAt);
  const e = it.estimate;
  return [
    el("h1", {}, it.address || it.location_id),
    it.returned_because
      ? note("caution", el("strong", {}, "Came back: "), it.returned_because)
      : null,
    it.access.may_start ? null : note("error", `${standing(it.access)}. Do not start.`),
    facts([
      ["Order", it.number],
      ["Old pipe", it.old_pipe],
      ["New pipe", it.new_pipe],
      ["Length", it.length_ft ? `${it.length_ft} ft` : "measure"],
      ["Cover", it.cover_ft ? `${it.cover_ft} ft` : "measure"],
      [
        "Bends",
        it.bends
          .map(
            (b) =>
              `${b.degrees}° at ${b.station_ft} ft, ${b.radius_in ? `radius ${b.radius_in} in.` : "radius not known"}`,
          )
          .join("; ") || "none known",
      ],
      [
        "Joints",
        it.joints.map((j) => `${j.kind.toLowerCase()} at ${j.station_ft} ft`).join("; ") ||
          "none known",
      ],
      ["Groundwater", it.groundwater ? "above the pipe" : ""],
      ["Due", it.due_on],
      ["Note", it.note],
    ]),
    el(
      "section",
      { class: "card" },
      el("h2", {}, "Force"),
      e?.verdict === "NO_GO"
        ? note(
            "error",
            el("strong", {}, "No-go. "),
            "The estimate forbids this pull. Do not load the cable; call the office.",
          )
        : null,
      e?.standing ? el("p", {}, e.standing) : null,
      e
        ? el(
            "p",
            { class: "limit limit-STOP" },
            e.limit ? `Stop at ${e.limit}` : "Unrated: do not pull",
          )
        : el("p", { class: "limit limit-STOP" }, "No estimate: do not load the cable"),
      e?.total
        ? facts([
            ["Expected", `${e.total.expected}, up to ${e.total.high}`],
            ["Limited by", e.limited_by],
            ["Drag behind the expander", `${e.drag.expected}, up to ${e.drag.high}`],
            [
              "Drag, at most",
              e.drag_limit ? `${e.drag_limit}, set by the ${e.drag_limited_by}` : "unrated",
            ],
          ])
        : null,
      e?.covers ? el("p", { class: "soft" }, `Each range is ${e.covers}.`) : null,
      el(
        "p",
        { class: "soft" },
        "An estimate, not a measurement. Local codes, the maker's ratings and the competent person come first.",
      ),
    ),
    it.ground
      ? el(
          "section",
          { class: "card" },
          el("h2", {}, "Ground and other lines"),
          it.ground.lines.length
            ? el("ul", {}, ...it.ground.lines.map((line) => el("li", {}, line)))
            : el("p", {}, "No other line is on record."),
          ...it.ground.findings.map(say),
        )
      : null,
    it.tool_string
      ? el(
          "section",
          { class: "card" },
          el("h2", {}, "Tool string, from the puller"),
          el(
            "ol",
            {},
            ...it.tool_string.parts.map((p) =>
              el(
                "li",
                {},
                `${p.mark}, ${inWords(p.kind)}`,
                p.orientation ? ` (${inWords(p.orientation)})` : "",
              ),
            ),
          ),
          ...it.tool_string.findings.filter((f) => f.level !== "NOTE").map(say),
          ...(it.checklist ? checked(it.checklist) : []),
        )
      : pulled(it)
        ? note("error", "No tool string is on record for this order. Do not load a cable.")
        : null,
    el(
      "div",
      { class: "phone-steps" },
      it.started_on
        ? note(
            "success",
            `A safe start is on record for ${it.started_on}, for that day and that tool string only.`,
          )
        : null,
      ...against(it),
      el(
        "a",
        {
          class: it.access.may_start ? "button second" : "button",
          href: `#/order/${it.id}/access`,
        },
        "Getting in: consent, attempts, appointments",
      ),
      el("a", { class: "button", href: `#/order/${it.id}/start` }, "Before the work: safe start"),
      it.tool_string
        ? el("a", { class: "button", href: `#/order/${it.id}/checklist` }, "Assembly checklist")
        : null,
      el("a", { class: "button", href: `#/order/${it.id}/record` }, "Record the work"),
      it.latitude !== null
        ? el(
            "a",
            { class: "button second", href: `geo:${it.latitude},${it.longitude}` },
            "Find the way",
          )
        : null,
    ),
    items.length ? el("section", {}, el("h2", {}, "Filled in on this phone"), listed(items)) : null,
    forms ? cautions(forms, "order", it) : null,
  ].filter(Boolean);
}
