// The screens: list, one order, safe start, checklist, record, what is not sent yet.
import { el, facts, field, note } from "./asked.js";
import { bad, draft, finish, KINDS, known, listed, nothing, OPEN, ROUTES, saver, STATES, today } from "./drafts.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";
import { standing } from "./visits.js";

async function signIn() {
  const signed = await store.get("kept", "signed");
  return signed?.out ? note("caution", "You are signed out. What you fill in is kept here. ", el("a", { href: "/sign-in/?next=/work/phone/" }, "Sign in")) : null;
}

export async function orders() {
  const [rows, items] = [await store.all("orders"), await store.all("outbox")];
  rows.sort((a, b) => (a.due_on ?? "9").localeCompare(b.due_on ?? "9") || a.number.localeCompare(b.number));
  const waits = (order) => items.filter((i) => i.order === order.id && OPEN.has(i.state)).length;
  const done = (order) => items.some((i) => i.order === order.id && i.kind === "COMPLETION" && i.state === "SENT" && i.version === order.version);
  return [
    el("h1", {}, "Orders to be done"), await signIn(),
    rows.length ? el("ul", { class: "phone-list" }, ...rows.map((order) => el("li", {}, el("a", { href: `#/order/${order.id}`, class: order.returned_because ? "returned" : "" },
      el("strong", {}, order.address || order.location_id), `${order.number}, ${order.old_pipe}`,
      order.returned_because ? el("div", {}, "Came back with reasons") : null,
      order.gone ? el("div", {}, "No longer in the list; see what waits") : null,
      done(order) ? el("div", {}, "Record sent") : null,
      waits(order) ? el("div", {}, `${waits(order)} not sent yet`) : null)))) : el("p", { class: "empty" }, "No order is released to your company, or this phone has not fetched them yet. Open this page once with a network."),
    el("p", {}, el("a", { class: "button second", href: "/work/orders/" }, "Office pages")),
  ].filter(Boolean);
}

const say = (f) => el("p", {}, el("span", { class: `level level-${f.level}` }, f.level), ` ${f.message} `, el("strong", {}, f.do ?? ""), f.who ? el("span", { class: "soft" }, ` Who can act: ${f.who}.`) : null);
const pulled = (it) => it.pulled !== false;
function cautions(forms, place, it) {
  const told = (forms.cautions?.[place] ?? []).filter((c) => pulled(it) || !c.pulled);
  return told.length ? el("section", { class: "card cautions" }, el("h2", {}, "Usual cautions"), el("ul", {}, ...told.map((c) => el("li", {}, c.text)))) : null;
}
// What the record said against a start when this phone last heard; the program asks again on sending.
function against(it) {
  const stops = (it.against_start ?? []).filter((f) => f.level === "STOP");
  const more = (it.against_start ?? []).filter((f) => f.level === "CAUTION");
  return [stops.length ? note("error", el("strong", {}, "Do not start."), ...stops.map(say)) : null, more.length ? el("details", { class: "card" }, el("summary", {}, `To be looked at: ${more.length}`), ...more.map(say)) : null];
}
function checked(list) {
  const failed = list.failed.length ? note(list.failed.some((f) => f.level === "STOP") ? "error" : "caution", el("strong", {}, "Failed on the assembly checklist."), ...list.failed.map(say)) : null;
  const rows = Object.keys(list.rows).length;
  return [failed, el("p", {}, `Assembly checklist: ${list.answered} of ${rows} answered, ${list.passed} passed, ${list.failed.length} failed${list.open.length ? `, ${list.open.length} stop rows open` : ""}.`)];
}

export async function order(id) {
  const it = await known(id);
  if (!it) return nothing();
  const forms = await store.get("kept", "forms");
  const items = (await store.all("outbox")).filter((i) => i.order === it.id).sort((a, b) => b.createdAt - a.createdAt);
  const e = it.estimate;
  return [
    el("h1", {}, it.address || it.location_id),
    it.returned_because ? note("caution", el("strong", {}, "Came back: "), it.returned_because) : null,
    it.access.may_start ? null : note("error", `${standing(it.access)}. Do not start.`),
    facts([["Order", it.number], ["Old pipe", it.old_pipe], ["New pipe", it.new_pipe], ["Length", it.length_ft ? `${it.length_ft} ft` : "measure"], ["Cover", it.cover_ft ? `${it.cover_ft} ft` : "measure"],
      ["Bends", it.bends.map((b) => `${b.degrees}° at ${b.station_ft} ft, ${b.radius_in ? `radius ${b.radius_in} in.` : "radius not known"}`).join("; ") || "none known"], ["Joints", it.joints.map((j) => `${j.kind.toLowerCase()} at ${j.station_ft} ft`).join("; ") || "none known"],
      ["Groundwater", it.groundwater ? "above the pipe" : ""], ["Due", it.due_on], ["Note", it.note]]),
    el("section", { class: "card" }, el("h2", {}, "Force"),
      e?.verdict === "NO_GO" ? note("error", el("strong", {}, "No-go. "), "The estimate forbids this pull. Do not load the cable; call the office.") : null,
      e?.standing ? el("p", {}, e.standing) : null,
      e ? el("p", { class: "limit limit-STOP" }, e.limit ? `Stop at ${e.limit}` : "Unrated: do not pull") : el("p", { class: "limit limit-STOP" }, "No estimate: do not load the cable"),
      e?.total ? facts([["Expected", `${e.total.expected}, up to ${e.total.high}`], ["Limited by", e.limited_by], ["Drag behind the expander", `${e.drag.expected}, up to ${e.drag.high}`], ["Drag, at most", e.drag_limit ? `${e.drag_limit}, set by the ${e.drag_limited_by}` : "unrated"]]) : null,
      e?.covers ? el("p", { class: "soft" }, `Each range is ${e.covers}.`) : null,
      el("p", { class: "soft" }, "An estimate, not a measurement. Local codes, the maker's ratings and the competent person come first.")),
    it.ground ? el("section", { class: "card" }, el("h2", {}, "Ground and other lines"), it.ground.lines.length ? el("ul", {}, ...it.ground.lines.map((line) => el("li", {}, line))) : el("p", {}, "No other line is on record."),
      ...it.ground.findings.map(say)) : null,
    it.tool_string ? el("section", { class: "card" }, el("h2", {}, "Tool string, from the puller"), el("ol", {}, ...it.tool_string.parts.map((p) => el("li", {}, `${p.mark}, ${p.kind.toLowerCase().replaceAll("_", " ")}${p.orientation ? ` (${p.orientation.toLowerCase().replaceAll("_", " ")})` : ""}`))),
      ...it.tool_string.findings.filter((f) => f.level !== "NOTE").map(say), ...(it.checklist ? checked(it.checklist) : [])) : pulled(it) ? note("error", "No tool string is on record for this order. Do not load a cable.") : null,
    el("div", { class: "phone-steps" },
      it.started_on ? note("success", `A safe start is on record for ${it.started_on}, for that day and that tool string only.`) : null,
      ...against(it),
      el("a", { class: it.access.may_start ? "button second" : "button", href: `#/order/${it.id}/access` }, "Getting in: consent, attempts, appointments"),
      el("a", { class: "button", href: `#/order/${it.id}/start` }, "Before the work: safe start"),
      it.tool_string ? el("a", { class: "button", href: `#/order/${it.id}/checklist` }, "Assembly checklist") : null,
      el("a", { class: "button", href: `#/order/${it.id}/record` }, "Record the work"),
      it.latitude !== null ? el("a", { class: "button second", href: `geo:${it.latitude},${it.longitude}` }, "Find the way") : null),
    items.length ? el("section", {}, el("h2", {}, "Filled in on this phone"), listed(items)) : null,
    forms ? cautions(forms, "order", it) : null,
  ].filter(Boolean);
}

export async function start(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "START", { fields: { on: await today(), traffic: "no" } });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const open = el("div", {});
  const groups = forms.start.filter((g) => pulled(it) || !g.pulled);
  const judge = () => {
    const ticks = groups.flatMap((g) => g.fields).filter((f) => f.kind === "tick" && !/(cave_in|rain)$/.test(f.name) && kept.fields[f.name] !== "on");
    open.replaceChildren(ticks.length ? note("error", el("strong", {}, "Do not start. "), `Not done: ${ticks.map((f) => f.label).join("; ")}.`)
      : note("caution", "All is ticked. The answers count when the program says that the start is on record; until then the competent person decides by the paper sheet."));
  };
  judge();
  const form = el("form", { onsubmit: async (e) => { e.preventDefault(); await finish(it, kept, { fields: { ...kept.fields } }); } },
    ...groups.map((g) => el("fieldset", { class: "card" }, el("legend", {}, g.title), ...g.fields.map((f) => field(f, kept.fields, () => { save(); judge(); })))),
    open, said, el("button", { type: "submit" }, "Record the start"));
  return [el("h1", {}, "Safe start"), el("p", {}, `${it.number}, ${it.address}`), ...against(it), el("p", {}, "What is not answered was not done."), cautions(forms, "start", it), form].filter(Boolean);
}

export async function checklist(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "CHECKLIST", { answers: {} });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  // What the tool set in use says of a row goes before common practice.
  const ofSet = ({ criterion, low, high } = {}) => (criterion === undefined ? {} : { criterion, low, high });
  const rows = forms.checklist.filter((c) => c.key !== "TRACER_WIRE" || it.new_material !== "COPPER").map((c) => ({ ...c, ...ofSet(it.checklist?.rows[c.key]), last: it.checklist?.rows[c.key] }));
  const form = el("form", { onsubmit: async (e) => {
    e.preventDefault();
    const answers = Object.entries(kept.answers).map(([check_key, a]) => ({ check_key, passed: a.passed ?? null, measured: a.measured ?? null })).filter((a) => a.passed !== null || a.measured !== null);
    if (!answers.length) { said.textContent = "Nothing is answered yet."; return; }
    await finish(it, kept, { answers });
  } }, ...rows.map((check) => checkRow(check, kept, save)), said, el("button", { type: "submit" }, "Record the answers"));
  return [el("h1", {}, "Assembly checklist"), el("p", {}, `${it.number}, ${it.address}. Measure, don't judge by eye.`), ...(it.checklist ? checked(it.checklist) : []), cautions(forms, "checklist", it), form].filter(Boolean);
}

function checkRow(check, kept, save) {
  const answer = (kept.answers[check.key] ??= {});
  const says = el("div", { "aria-live": "polite" });
  const judge = () => {
    const m = answer.measured;
    const off = check.answer === "NUMBER" && m !== undefined && m !== null && ((check.low !== null && m < check.low) || (check.high !== null && m > check.high));
    says.replaceChildren(...(answer.passed === false || off ? [note(check.stop ? "error" : "caution", check.stop ? "Do not pull. " : "", `${check.criterion}. Why it matters: ${check.why}.`)] : []));
  };
  judge();
  const control = check.answer === "YES"
    ? el("div", { class: "choices" }, ...[["on", true, "Yes, seen"], ["off", false, "Not so"]].map(([code, passed, label]) => el("label", {}, el("input", { type: "radio", name: check.key, value: code, checked: answer.passed === passed, onchange: () => { answer.passed = passed; save(); judge(); } }), label)))
    : el("input", { type: "number", step: "any", min: 0, inputmode: "decimal", "aria-label": `${check.shows}: ${check.label}, ${check.unit}`, value: answer.measured ?? "", oninput: (e) => { answer.measured = e.target.value === "" ? null : Number(e.target.value); save(); judge(); } });
  return el("fieldset", { class: "answer" }, el("legend", {}, `${check.shows}. `, el("span", { class: "soft" }, check.label), check.unit ? `, ${check.unit}` : ""), el("span", { class: "hint" }, check.criterion),
    check.last?.by ? el("p", {}, "On record: ", el("span", { class: `level level-${check.last.level}` }, check.last.said), ` ${check.last.by}`) : null, control, says);
}

export async function record(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const kept = await draft(it, "COMPLETION", { fields: { outcome: "REPLACED", finished_on: await today(), method_used: it.method, length_ft: it.length_ft ?? "" }, photos: [], log: null, machine: {}, position: null });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const form = el("form", { onsubmit: async (e) => { e.preventDefault(); await finish(it, kept, { fields: { ...kept.fields }, photos: kept.photos, log: kept.log, machine: kept.machine }); } },
    ...forms.record.map((g) => el("fieldset", { class: "card" }, el("legend", {}, g.title), ...g.fields.map((f) => field(f, kept.fields, save)))),
    photos(forms, kept, save), pullLog(forms, kept, save), said, el("button", { type: "submit" }, "Hand in"));
  return [el("h1", {}, "Record the work"), el("p", {}, `${it.number}, ${it.address}`), cautions(forms, "record", it), form].filter(Boolean);
}

function photos(forms, kept, save) {
  const grid = el("div", { class: "photos" });
  const where = el("p", { class: "soft", "aria-live": "polite" }, kept.position ? "The place of this phone is noted with new photos." : "");
  const draw = () => grid.replaceChildren(...forms.photos.map(({ kind, label }) => {
    const has = kept.photos.filter((p) => p.kind === kind);
    const shown = has.map((p) => { const img = el("img", { alt: `${label}, taken` }); img.src = URL.createObjectURL(p.blob); img.onload = () => URL.revokeObjectURL(img.src); return img; });
    return el("div", { class: has.length ? "photo has" : "photo" }, ...shown,
      el("label", {}, has.length ? `${label}: take another` : `Photo: ${label}`, el("input", { type: "file", accept: "image/jpeg,image/png,image/heic,image/heif", capture: "environment", "data-kind": kind, onchange: async (e) => {
        for (const file of e.target.files) kept.photos.push({ kind, name: file.name || `${kind.toLowerCase()}.jpg`, blob: new Blob([await file.arrayBuffer()], { type: file.type }), position: kept.position });
        await save(); draw();
      } })),
      has.length ? el("button", { type: "button", class: "plain", onclick: async () => { kept.photos = kept.photos.filter((p) => p.kind !== kind); await save(); draw(); } }, "Remove") : null);
  }));
  draw();
  const place = el("button", { type: "button", class: "second", onclick: () => {
    if (!navigator.geolocation) { where.textContent = "This phone tells no place."; return; }
    where.textContent = "Looking for the place …";
    navigator.geolocation.getCurrentPosition(async ({ coords }) => {
      kept.position = { latitude: Number(coords.latitude.toFixed(6)), longitude: Number(coords.longitude.toFixed(6)), accuracy_m: Math.round(coords.accuracy) };
      kept.photos = kept.photos.map((p) => ({ ...p, position: p.position ?? kept.position }));
      await save();
      where.textContent = `Noted, good to about ${Math.round(coords.accuracy * 3.281)} ft.`;
    }, () => { where.textContent = "The phone could not find its place; the photos go without."; }, { enableHighAccuracy: true, timeout: 20000 });
  } }, "Note the place of this phone");
  return el("fieldset", { class: "card" }, el("legend", {}, "Photos"), grid, place, where);
}

function pullLog(forms, kept, save) {
  const name = el("p", { class: "soft", "aria-live": "polite" }, kept.log ? `Chosen: ${kept.log.name}` : "");
  const input = el("input", { type: "file", id: "pull-log", accept: ".csv,.txt,.tsv,text/csv,text/plain", onchange: async (e) => {
    const file = e.target.files[0];
    kept.log = file ? { name: file.name, blob: new Blob([await file.arrayBuffer()], { type: file.type }) } : null;
    await save();
    name.textContent = file ? `Chosen: ${file.name}` : "";
  } });
  return el("fieldset", { class: "card" }, el("legend", {}, "Log of the pull"), el("div", { class: "field" }, el("label", { for: "pull-log" }, "Log file of the puller"), input, name),
    el("details", {}, el("summary", {}, "The log holds pressure, not force"), ...forms.pull.map((f) => field({ ...f, initial: undefined }, kept.machine, save))));
}

export async function waiting() {
  const items = (await store.all("outbox")).sort((a, b) => b.createdAt - a.createdAt);
  const open = items.filter((i) => i.state !== "SENT");
  return [el("h1", {}, "Not sent yet"), await signIn(), open.length ? listed(open) : el("p", { class: "empty" }, "Everything is sent."),
    open.length ? el("button", { onclick: () => outbox.wake() }, "Try now") : null,
    items.length > open.length ? el("details", {}, el("summary", {}, `Sent from this phone: ${items.length - open.length}`), listed(items.filter((i) => i.state === "SENT").slice(0, 50))) : null].filter(Boolean);
}

const SHOWN = { state_label: "State", length_ft: "Length, ft", cover_ft: "Cover, ft", method: "Method", old_material: "Old pipe", old_nominal_in: "Old size, in.", new_material: "New pipe", new_nominal_in: "New size, in.", new_grade: "New grade", soil: "Soil", groundwater: "Groundwater", bends: "Bends", joints: "Joints", note: "Note", due_on: "Due" };
const ANSWERS = { state: "Where consent stands", answer: "The last answer", answered_on: "Answered on" };
const shown = (value) => (value === null || value === undefined || value === "" ? "not stated" : typeof value === "object" ? JSON.stringify(value) : String(value));

export async function item(key) {
  const it = await store.get("outbox", key);
  if (!it) return [el("h1", {}, "Not here any more"), el("a", { class: "button", href: "#/outbox" }, "Not sent yet")];
  const reopen = async (version) => {
    await store.put("drafts", { key: `${it.order}-${it.kind}`, order: it.order, kind: it.kind, version: version ?? it.version, fields: it.fields ?? {}, answers: Object.fromEntries((it.answers ?? []).map((a) => [a.check_key, a])), photos: it.photos?.filter((p) => p.blob) ?? [], log: it.log ?? null, machine: it.machine ?? {}, position: null, photo: it.paper ?? null, strokes: [] });
    await outbox.discard(key);
    location.hash = `#/order/${it.order}/${ROUTES[it.kind]}`;
  };
  const throwAway = el("button", { class: "danger", onclick: async () => { if (confirm("Discard what was filled in? It cannot be brought back.")) { await outbox.discard(key); location.hash = "#/outbox"; } } }, "Discard it");
  const parts = [el("h1", {}, KINDS[it.kind]), el("p", {}, `${it.number}, ${it.address ?? ""}`), el("p", {}, el("span", { class: `level level-${it.state === "SENT" ? "GOOD" : bad(it.state) ? "STOP" : "CAUTION"}` }, STATES[it.state]))];
  if (it.state !== "SENT" && it.says.length) parts.push(note(bad(it.state) ? "error" : "caution", ...it.says.map((s) => el("p", {}, s))));
  if (it.state === "CONFLICT" && it.now) parts.push(...conflict(it, reopen));
  if (it.state === "REFUSED" && it.kind !== "CLOSING") parts.push(el("button", { onclick: () => reopen() }, "Put it right and send again"));
  if (it.state === "SIGN_IN") parts.push(el("a", { class: "button", href: "/sign-in/?next=/work/phone/" }, "Sign in"));
  if (it.state === "WAITING") parts.push(el("button", { onclick: () => outbox.wake() }, "Try now"));
  if (it.state === "SENT" && it.answer?.findings?.length) parts.push(el("h2", {}, "The reviewer will see"), ...it.answer.findings.map((f) => el("p", {}, el("span", { class: `level level-${f.level}` }, f.level), ` ${f.message}`)));
  if (bad(it.state)) parts.push(throwAway);
  return parts;
}

function conflict(it, reopen) {
  const ofConsent = it.kind === "CONSENT";
  const [names, seen] = ofConsent ? [ANSWERS, it.seen.access] : [SHOWN, it.seen];
  const rows = Object.keys(names).filter((name) => shown(seen[name]) !== shown(it.now[name]));
  const sends = ofConsent || ["RELEASED", "RETURNED"].includes(it.now.state);
  return [
    el("div", { class: "table-box" }, el("table", { class: "changes" }, el("caption", {}, "What changed in the meantime"),
      el("thead", {}, el("tr", {}, ...["", "When you filled it in", "Now"].map((h) => el("th", { scope: "col" }, h)))),
      el("tbody", {}, ...rows.map((name) => el("tr", {}, el("th", { scope: "row" }, names[name]), el("td", {}, shown(seen[name])), el("td", {}, shown(it.now[name]))))))),
    sends ? el("button", { onclick: () => outbox.change(it.key, { version: it.now.version, seen: ofConsent ? { ...it.seen, access: it.now } : it.now, state: "WAITING", nextAt: 0, says: [] }).then(outbox.sendAll) }, "It still holds: send it") : note("caution", "The order takes nothing more. Call the office; what you filled in stays here."),
    sends ? el("button", { class: "second", onclick: () => reopen(it.now.version) }, "Correct it first") : null,
  ].filter(Boolean);
}
