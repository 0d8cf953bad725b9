// The list of orders in the order of the way, and one order with its next act first.
import { el, facts, note } from "./asked.js";
import { next } from "./card.js";
import { lit } from "./drawing.js";
import { dayTold } from "./rules.js";
import { known, listed, nothing, OPEN, today } from "./drafts.js";
import * as store from "./store.js";
import { against, cautions, checked, limits, pulled, say, signIn } from "./told.js";
import { standing } from "./visits.js";

// From one to the nearest next, beginning with the first appointment or what is due first.
function drivingOrder(rows, day) {
  const left = [...rows].sort((a, b) => hour(a, day).localeCompare(hour(b, day)) || a.id - b.id);
  const way = [];
  let at = null;
  while (left.length) {
    const fixed = left.findIndex((order) => hour(order, day) < "9999");
    let pick = fixed >= 0 || !at ? Math.max(fixed, 0) : 0;
    if (fixed < 0 && at)
      for (let n = 1; n < left.length; n++) if (far(at, left[n]) < far(at, left[pick])) pick = n;
    at = left.splice(pick, 1)[0];
    way.push(at);
  }
  return way;
}
const hour = (order, day) =>
  (order.access?.appointments ?? [])
    .filter((a) => a.state === "BOOKED" && String(a.starts_at).startsWith(day))
    .map((a) => a.starts_at)
    .sort()[0] ?? `9999${order.due_on ?? "9"}`;
function far(a, b) {
  if (a.latitude === null || b.latitude === null) return Number.POSITIVE_INFINITY;
  const east = (a.longitude - b.longitude) * Math.cos((a.latitude * Math.PI) / 180);
  return Math.hypot(a.latitude - b.latitude, east);
}

export async function orders() {
  const [rows, items, day] = [await store.all("orders"), await store.all("outbox"), await today()];
  const isToday = (order) =>
    order.returned_because ||
    order.started_on === day ||
    (order.due_on && order.due_on <= day) ||
    hour(order, day) < "9999";
  const now = rows.filter(isToday);
  const later = rows.filter((order) => !isToday(order));
  const list = (some) =>
    el(
      "ul",
      { class: "phone-list" },
      ...drivingOrder(some, day).map((order) => entry(order, items)),
    );
  return [
    el("h1", {}, now.length ? "Today" : "Orders to be done"),
    await signIn(),
    rows.length
      ? null
      : el(
          "p",
          { class: "empty" },
          "No order is released to your company, or this phone has not fetched them yet. ",
          "Open this page once with a network.",
        ),
    now.length ? list(now) : null,
    later.length && now.length
      ? el("details", {}, el("summary", {}, `Later: ${later.length}`), list(later))
      : null,
    later.length && !now.length ? list(later) : null,
    el("p", {}, el("a", { class: "button second", href: "/work/orders/" }, "Office pages")),
  ].filter(Boolean);
}

function entry(order, items) {
  const own = items.filter((i) => i.order === order.id);
  const waits = own.filter((i) => OPEN.has(i.state)).length;
  const done = own.some(
    (i) => i.kind === "COMPLETION" && i.state === "SENT" && i.version === order.version,
  );
  return el(
    "li",
    {},
    el(
      "a",
      { href: `#/order/${order.id}`, class: order.returned_because ? "returned" : "" },
      el("strong", { lang: "en" }, order.address || order.location_id),
      el("span", {}, order.number),
      ", ",
      el("span", {}, order.old_pipe),
      order.returned_because ? el("div", {}, "Came back with reasons") : null,
      order.gone ? el("div", {}, "No longer in the list; see what waits") : null,
      done ? el("div", {}, "Record sent") : null,
      waits ? el("div", {}, `${waits} not sent yet`) : null,
    ),
  );
}

const inWords = (code) => code.toLowerCase().replaceAll("_", " ");
const more = (title, ...inside) =>
  el("details", { class: "card" }, el("summary", {}, title), ...inside);

const bend = (b) =>
  `${b.degrees}° at ${b.station_ft} ft, ${b.radius_in ? `radius ${b.radius_in} in.` : "radius not known"}`;

function pipes(it) {
  return facts([
    ["Order", it.number],
    ["Method", it.method_words],
    ["Old pipe", it.old_pipe],
    ["New pipe", it.new_pipe],
    ["Length", it.length_ft ? `${it.length_ft} ft` : "measure"],
    ["Cover", it.cover_ft ? `${it.cover_ft} ft` : "measure"],
    ...(it.bends.length ? it.bends.map((b) => ["Bends", bend(b)]) : [["Bends", "none known"]]),
    ...(it.joints.length
      ? it.joints.map((j) => ["Joints", `${inWords(j.kind)} at ${j.station_ft} ft`])
      : [["Joints", "none known"]]),
    ["Groundwater", it.groundwater ? "above the pipe" : ""],
    ["Due", it.due_on ? dayTold(it.due_on) : ""],
    ["Note", it.note ? el("span", { lang: "en" }, it.note) : ""],
  ]);
}

function string(it) {
  if (!pulled(it)) return null;
  if (!it.tool_string)
    return note("error", "No tool string is on record for this order. Do not load a cable.");
  return more(
    "Tool string, from the puller",
    lit(it.drawing),
    el(
      "ol",
      {},
      ...it.tool_string.parts.map((p) =>
        el(
          "li",
          {},
          el("span", { lang: "en" }, p.mark),
          ", ",
          el("span", {}, inWords(p.kind)),
          ...(p.orientation ? [": ", el("span", {}, inWords(p.orientation))] : []),
        ),
      ),
    ),
    ...it.tool_string.findings.filter((f) => f.level !== "NOTE").map(say),
    ...(it.checklist ? checked(it.checklist) : []),
  );
}

function ground(it) {
  if (!it.ground) return null;
  return more(
    "Ground and other lines",
    it.ground.lines.length
      ? el("ul", {}, ...it.ground.lines.map((line) => el("li", {}, line)))
      : el("p", {}, "No other line is on record."),
    ...it.ground.findings.map(say),
  );
}

// The one next act of an order, and where the day stands.
async function act(it) {
  const at = await next(it.id);
  if (!at) return null;
  const place = at.started ? "done" : "card";
  const name = at.started ? "Record the work" : "Before the work";
  return el(
    "a",
    { class: "button card-go", href: `#/order/${it.id}/${place}` },
    el("span", {}, at.left ? `${name}: ${at.title}` : at.started ? "Hand in" : "Start the work"),
    el(
      "span",
      { class: "card-left" },
      at.left ? `${at.left} of ${at.total} steps left` : "All steps answered",
    ),
  );
}

// An order whose record went leaves the list; its crew is told so, and where it stands.
async function handedIn(id) {
  const sent = (await store.all("outbox")).find(
    (i) => i.order === id && i.kind === "COMPLETION" && i.state === "SENT",
  );
  if (!sent) return nothing();
  return [
    el("h1", {}, "Record sent"),
    note("success", el("span", { lang: "en" }, `${sent.number}, ${sent.address ?? ""}`)),
    el("a", { class: "button", href: "#/" }, "Orders"),
  ];
}

export async function order(id) {
  const it = await known(id);
  if (!it) return handedIn(Number(id));
  const forms = await store.get("kept", "forms");
  const items = (await store.all("outbox"))
    .filter((i) => i.order === it.id)
    .sort((a, b) => b.createdAt - a.createdAt);
  return [
    el("h1", { lang: "en" }, it.address || it.location_id),
    it.returned_because
      ? note(
          "caution",
          el("strong", {}, "Came back: "),
          el("span", { lang: "en" }, it.returned_because),
        )
      : null,
    it.access.may_start ? null : note("error", `${standing(it.access)}. Do not start.`),
    it.started_on
      ? note(
          "success",
          `A safe start is on record for ${dayTold(it.started_on)}, for that day and that tool string only.`,
        )
      : null,
    await act(it),
    // What nobody answered yet is the card's own matter.
    ...against({
      ...it,
      against_start: it.against_start?.filter((f) => f.rule !== "ASSEMBLY_OPEN"),
    }),
    pulled(it) ? limits(it) : null,
    more("Pipes and run", pipes(it)),
    string(it),
    ground(it),
    el(
      "div",
      { class: "phone-steps" },
      el(
        "a",
        {
          class: it.access.may_start ? "button second" : "button",
          href: `#/order/${it.id}/access`,
        },
        "Getting in: consent, attempts, appointments",
      ),
      el("a", { class: "button second", href: `#/order/${it.id}/done` }, "Record the work"),
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
