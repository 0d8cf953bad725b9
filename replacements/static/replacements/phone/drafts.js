// What every screen with questions needs: the order, its draft as it is filled in, and what waits.
import { el } from "./asked.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";
import { clock, moment, say } from "./words.js";

export const STATES = {
  WAITING: "waits for the network",
  SENDING: "being sent",
  SENT: "sent",
  CONFLICT: "needs you: the order changed",
  REFUSED: "needs you: it was not taken",
  SIGN_IN: "needs you: sign in again",
};
export const KINDS = {
  START: "Safe start",
  CHECKLIST: "Assembly checklist",
  COMPLETION: "Record of the work",
  ATTEMPT: "Attempt to reach somebody",
  CONSENT: "The owner's answer",
  APPOINTMENT: "Appointment",
  CLOSING: "What became of an appointment",
};
export const ROUTES = {
  START: "card",
  CHECKLIST: "card",
  COMPLETION: "record",
  ATTEMPT: "attempt",
  CONSENT: "consent",
  APPOINTMENT: "appointment",
  CLOSING: "access",
};
export const OPEN = new Set(["WAITING", "SENDING", "CONFLICT", "REFUSED", "SIGN_IN"]);
export const bad = (state) => ["CONFLICT", "REFUSED", "SIGN_IN"].includes(state);

// The program's day may be another than the phone's: count on from the day it last told.
export async function today() {
  const kept = await store.get("kept", "day");
  const day = (ms) =>
    new Date(ms - new Date(ms).getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  if (!kept) return day(Date.now());
  const passed = Math.round((Date.parse(day(Date.now())) - Date.parse(day(kept.at))) / 86400000);
  return new Date(Date.parse(kept.today) + passed * 86400000).toISOString().slice(0, 10);
}

// What an order that was kept by an earlier page does not tell yet.
const UNTOLD = {
  state: "OPEN",
  may_start: false,
  version: "",
  attempts_counted: 0,
  methods_counted: 0,
  missing: "",
  answer: "",
  people: [],
  appointments: [],
  own_attempts: [],
};
export async function known(id) {
  const order = await store.get("orders", Number(id));
  return order ? { ...order, access: order.access ?? UNTOLD } : null;
}
export const nothing = () => [
  el("h1", {}, "Not on this phone"),
  el("p", {}, "This order is not kept here. Go back to the list with a network."),
  el("a", { class: "button", href: "#/" }, "Orders"),
];

export async function draft(order, kind, fresh) {
  const key = `${order.id}-${kind}`;
  const found = await store.get("drafts", key);
  return (
    found ?? { key, order: order.id, number: order.number, kind, version: order.version, ...fresh }
  );
}

// Keeps a draft with every change; what could not be kept is said.
export function saver(it, said) {
  let pending = Promise.resolve();
  return () => {
    pending = pending
      .then(() => store.put("drafts", it))
      .then(() => {
        said.textContent = say(`Kept on this phone at ${clock(Date.now())}.`);
      })
      .catch(() => {
        said.textContent = say(
          "This phone could not keep it: its storage is full. Do not close the page; free some space.",
        );
      });
    return pending;
  };
}

// The key that a draft on the screen is sent by: a second tap sends nothing twice. It is not kept
// with the draft, as what is filled in later is another record.
const sentAs = new WeakMap();

// Puts a draft among what is to be sent.
export async function handOver(order, it, item) {
  if (!sentAs.has(it)) sentAs.set(it, crypto.randomUUID());
  const user = await store.get("kept", "user");
  await outbox.enqueue({
    key: sentAs.get(it),
    order: order.id,
    number: order.number,
    address: order.address,
    kind: it.kind,
    version: it.version,
    seen: order,
    user: user?.name ?? "",
    ...item,
  });
  await store.remove("drafts", it.key);
}

export async function finish(order, it, item, back = "") {
  await handOver(order, it, item);
  location.hash = `#/order/${order.id}${back ? `/${back}` : ""}`;
}

export function listed(items) {
  return el(
    "ul",
    { class: "outbox" },
    ...items.map((item) =>
      el(
        "li",
        { class: "card", "data-state": item.state },
        el("strong", {}, KINDS[item.kind]),
        " ",
        el("span", { lang: "en" }, `${item.number}, ${item.address ?? ""}`),
        el(
          "p",
          {},
          el(
            "span",
            {
              class: `level level-${item.state === "SENT" ? "GOOD" : bad(item.state) ? "STOP" : "CAUTION"}`,
            },
            STATES[item.state],
          ),
          " ",
          el("span", {}, `filled in ${moment(item.createdAt)}`),
        ),
        ...(item.state === "SENT" ? [] : item.says.slice(0, 1).map((s) => el("p", {}, s))),
        el(
          "a",
          { class: "button second", href: `#/outbox/${item.key}` },
          bad(item.state) ? "Look at it" : "Show",
        ),
      ),
    ),
  );
}
