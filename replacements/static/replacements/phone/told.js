// What several screens tell: findings, cautions, what stands against a start, the checklist so far.
import { el, note } from "./asked.js";
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
    ` ${f.message} `,
    el("strong", {}, f.do ?? ""),
    f.who ? el("span", { class: "soft" }, ` Who can act: ${f.who}.`) : null,
  );
export const pulled = (it) => it.pulled !== false;
export function cautions(forms, place, it) {
  const told = (forms.cautions?.[place] ?? []).filter((c) => pulled(it) || !c.pulled);
  return told.length
    ? el(
        "section",
        { class: "card cautions" },
        el("h2", {}, "Usual cautions"),
        el("ul", {}, ...told.map((c) => el("li", {}, c.text))),
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
