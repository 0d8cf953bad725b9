// What several screens tell: findings, cautions, what stands against a start, the checklist so far.
import { el, facts, note } from "./asked.js";
import * as store from "./store.js";

export async function signIn() {
  const signed = await store.get("kept", "signed");
  return signed?.out
    ? note(
        "caution",
        "You are signed out. What you fill in is kept here. ",
        el("a", { href: "/sign-in/?next=/work/phone/" }, "Sign in"),
      )
    : null;
}

export const say = (f) =>
  el(
    "p",
    {},
    el("span", { class: `level level-${f.level}` }, f.level),
    " ",
    el("span", {}, f.message),
    " ",
    el("strong", {}, f.do ?? ""),
    f.who ? el("span", { class: "soft" }, " ", el("span", {}, `Who can act: ${f.who}.`)) : null,
  );
export const pulled = (it) => it.pulled !== false;
export function cautions(forms, place, it) {
  const told = (forms.cautions?.[place] ?? []).filter((c) => pulled(it) || !c.pulled);
  const list = (some) => el("ul", {}, ...some.map((c) => el("li", {}, c.text)));
  return told.length
    ? el(
        "section",
        { class: "card cautions" },
        el("h2", {}, "Usual cautions"),
        list(told.slice(0, 1)),
        el(
          "details",
          {},
          el("summary", {}, `All cautions of this job: ${told.length}`),
          list(told),
        ),
      )
    : null;
}
// What the record said against a start when this phone last heard; the program asks again on sending.
export function against(it) {
  const stops = (it.against_start ?? []).filter((f) => f.level === "STOP");
  const more = (it.against_start ?? []).filter((f) => f.level === "CAUTION");
  return [
    stops.length ? note("error", el("strong", {}, "Do not start."), ...stops.map(say)) : null,
    more.length
      ? el(
          "details",
          { class: "card" },
          el("summary", {}, `To be looked at: ${more.length}`),
          ...more.map(say),
        )
      : null,
  ];
}
// Expected total and drag with their limits, and what the estimate warns of.
export function limits(it) {
  const e = it.estimate;
  const warned = (e?.findings ?? []).filter((f) => f.level !== "NOTE");
  const verdict = { NO_GO: "No-go", CAUTION: "Caution", GO: "Go" }[e?.verdict];
  return el(
    "section",
    { class: "card" },
    el("h2", {}, "Force"),
    e?.verdict === "NO_GO"
      ? note(
          "error",
          el("strong", {}, "No-go. "),
          el("span", {}, "The estimate forbids this pull. Do not load the cable; call the office."),
        )
      : null,
    el(
      "p",
      { class: "limit limit-STOP" },
      e
        ? e.limit
          ? `Stop at ${e.limit}`
          : "Unrated: do not pull"
        : "No estimate: do not load the cable",
    ),
    e?.total
      ? facts([
          ["Verdict", verdict],
          ["Expected", `${e.total.expected}, up to ${e.total.high}`],
          ["Limited by", e.limited_by],
          ["Drag behind the expander", `${e.drag.expected}, up to ${e.drag.high}`],
          [
            "Drag, at most",
            e.drag_limit ? `${e.drag_limit}, set by the ${e.drag_limited_by}` : "unrated",
          ],
          ["Relief, at most", e.relief_psi],
        ])
      : null,
    ...warned.map(say),
    e?.standing ? el("p", { class: "soft" }, e.standing) : null,
    e?.covers ? el("p", { class: "soft" }, `Each range is ${e.covers}.`) : null,
    el(
      "p",
      { class: "soft" },
      "An estimate, not a measurement. Local codes, the maker's ratings and the competent person come first.",
    ),
  );
}

export function checked(list) {
  const failed = list.failed.length
    ? note(
        list.failed.some((f) => f.level === "STOP") ? "error" : "caution",
        el("strong", {}, "Failed on the assembly checklist."),
        ...list.failed.map(say),
      )
    : null;
  const rows = Object.keys(list.rows).length;
  return [
    failed,
    el(
      "p",
      {},
      `Assembly checklist: ${list.answered} of ${rows} answered, ${list.passed} passed, `,
      `${list.failed.length} failed`,
      list.open.length ? `, ${list.open.length} stop rows open.` : ".",
    ),
  ];
}
