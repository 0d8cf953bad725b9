// Sending what was filled in. Each item has a key of its own, so that a repeat is done once.
// WAITING goes by itself; CONFLICT and REFUSED wait for a person; SIGN_IN waits for signing in.
import * as store from "./store.js";

const PATH = {
  START: (item) => `/work/phone/send/${item.order}/start/`,
  CHECKLIST: (item) => `/work/phone/send/${item.order}/checklist/`,
  COMPLETION: (item) => `/work/phone/send/${item.order}/record/`,
  ATTEMPT: (item) => `/api/v1/work-orders/${item.order}/attempts/`,
  CONSENT: (item) => `/api/v1/work-orders/${item.order}/consents/`,
  APPOINTMENT: (item) => `/api/v1/work-orders/${item.order}/appointments/`,
  CLOSING: (item) => `/api/v1/appointments/${item.appointment}/closing/`,
};
const MOMENTS = ["at", "starts_at", "ends_at"];
const FIRST_WAIT = 4000,
  LONGEST_WAIT = 300000;
const listeners = new Set();
export const onChange = (listener) => listeners.add(listener);
const sent = new Set();
export const onSent = (listener) => {
  sent.add(listener);
};
const tell = () => {
  for (const listener of listeners) listener();
};

const cookie = (name) =>
  document.cookie
    .split("; ")
    .find((c) => c.startsWith(`${name}=`))
    ?.slice(name.length + 1) ?? "";

export async function enqueue(item) {
  await store.put("outbox", {
    state: "WAITING",
    tries: 0,
    nextAt: 0,
    says: [],
    createdAt: Date.now(),
    ...item,
  });
  tell();
  sendAll();
}

export async function change(key, values) {
  const item = await store.get("outbox", key);
  if (!item) return null;
  const changed = { ...item, ...values };
  await store.put("outbox", changed);
  tell();
  return changed;
}

export async function discard(key) {
  await store.remove("outbox", key);
  tell();
}

let running = false,
  timer = 0;
// One tab sends at a time; the server would do a repeat only once anyway.
export async function sendAll() {
  if (running) return;
  running = true;
  clearTimeout(timer);
  try {
    if (navigator.locks)
      await navigator.locks.request("outbox", { ifAvailable: true }, (lock) =>
        lock ? sendDue() : null,
      );
    else await sendDue();
  } finally {
    running = false;
  }
  const waiting = (await store.all("outbox")).filter(
    (item) => item.state === "WAITING" || item.state === "SENDING",
  );
  if (waiting.length)
    timer = setTimeout(
      sendAll,
      Math.max(1000, Math.min(...waiting.map((i) => i.nextAt)) - Date.now()),
    );
}

async function sendDue() {
  const due = (await store.all("outbox"))
    .filter((item) => ["WAITING", "SENDING"].includes(item.state) && item.nextAt <= Date.now())
    .sort((a, b) => a.createdAt - b.createdAt);
  const user = (await store.get("kept", "user"))?.name;
  const gone = new Set();
  let some = false;
  const open = await store.all("outbox");
  for (const item of due) {
    if (
      open.some(
        (other) => goesBefore(other, item) && other.state === "WAITING" && !gone.has(other.key),
      )
    )
      continue;
    if (item.user && user && item.user !== user) continue;
    if (!(await send(item))) break;
    gone.add(item.key);
    some = true;
  }
  if (!some) return;
  for (const listener of sent) listener();
}

// The checklist goes before the start that rests on it, the start before the record.
const IN_ORDER = ["CHECKLIST", "START", "COMPLETION"];
const goesBefore = (other, item) =>
  other.order === item.order &&
  IN_ORDER.includes(other.kind) &&
  IN_ORDER.indexOf(other.kind) < IN_ORDER.indexOf(item.kind);

// Returns false when the network is away, so that the rest waits as well.
async function send(item) {
  item = await change(item.key, { state: "SENDING" });
  try {
    item = await sendFiles(item);
    const body = bodyOf(item);
    const answer = await post(
      PATH[item.kind](item),
      body instanceof FormData ? body : JSON.stringify(body),
      item.key,
      {
        ...(body instanceof FormData ? {} : JSON_SENT),
        ...(item.version ? { "If-Match": `"${item.version}"` } : {}),
      },
    );
    await change(item.key, {
      state: "SENT",
      sentAt: Date.now(),
      says: [],
      photos: (item.photos ?? []).map(({ kind, id }) => ({ kind, id })),
      log: null,
      paper: null,
      answer: briefly(answer),
    });
    await store.remove("drafts", `${item.order}-${item.kind}`);
    return true;
  } catch (error) {
    return failed(item, error);
  }
}

const briefly = (answer) => ({
  id: answer.id ?? null,
  revision: answer.revision ?? null,
  findings: (answer.findings ?? []).filter((f) => f.level !== "NOTE"),
});

function bodyOf(item) {
  if (item.kind === "CHECKLIST") return { answers: item.answers };
  if (item.kind === "CONSENT") {
    const form = new FormData();
    for (const [name, value] of Object.entries(item.fields)) form.append(name, value);
    if (item.paper) form.append("paper", item.paper.blob, item.paper.name);
    return form;
  }
  if (["ATTEMPT", "APPOINTMENT", "CLOSING"].includes(item.kind)) {
    // What was written by this phone's clock goes with its zone.
    return Object.fromEntries(
      Object.entries(item.fields).map(([name, value]) => [
        name,
        MOMENTS.includes(name) && value ? new Date(value).toISOString() : value,
      ]),
    );
  }
  return {
    fields: item.fields,
    photos: (item.photos ?? []).map((p) => p.id),
    pull: item.pull ?? null,
    despite: item.despite ?? false,
  };
}

// A photo goes in pieces: where the network broke it goes on from what the program received.
const PIECE = 256 * 1024;
async function sendPhoto(item, place) {
  const key = `${item.key}-photo-${place}`;
  const address = `/work/phone/send/${item.order}/photos/${key}/`;
  const { blob, name, kind, position } = item.photos[place];
  const now = (values) => {
    const photos = item.photos.map((p, n) => (n === place ? { ...p, ...values } : p));
    return change(item.key, { photos });
  };
  if (!blob.size) throw new Refusal(422, { detail: `${name} is empty. Choose the photo again.` });
  const told = { name, kind };
  if (position) Object.assign(told, { latitude: position.latitude, longitude: position.longitude });
  for (let begun = 0; ; ) {
    const at = item.photos[place].at ?? 0;
    try {
      if (at >= blob.size) {
        const kept = await post(address, JSON.stringify(told), key, JSON_SENT);
        return now({ id: kept.id });
      }
      const piece = blob.slice(at, at + PIECE);
      const range = `bytes ${at}-${at + piece.size - 1}/${blob.size}`;
      const headers = { "Content-Type": "application/octet-stream", "Content-Range": range };
      item = await now({ at: (await post(address, piece, "", headers, "PUT")).received });
    } catch (error) {
      const stands = error.problem?.received;
      if (error.status !== 409 || stands === undefined || ++begun > 3) throw error;
      item = await now({ at: stands });
    }
  }
}

async function sendFiles(item) {
  const base = `/api/v1/work-orders/${item.order}`;
  for (const [place, photo] of (item.photos ?? []).entries()) {
    if (!photo.id) item = await sendPhoto(item, place);
  }
  if (item.log && !item.pull) {
    const form = new FormData();
    form.append("log", item.log.blob, item.log.name);
    form.append("pulled_on", item.fields.finished_on);
    for (const [name, value] of Object.entries(item.machine ?? {}))
      if (value !== "") form.append(name, value);
    const pull = await post(`${base}/pulls/`, form, `${item.key}-pull`);
    item = await change(item.key, { pull: pull.id });
  }
  return item;
}

class Refusal extends Error {
  constructor(status, problem) {
    super(problem.detail ?? `The program answered ${status}.`);
    this.status = status;
    this.problem = problem;
  }
}

const JSON_SENT = { "Content-Type": "application/json" };
async function post(address, body, key, headers = {}, method = "POST") {
  const answer = await fetch(address, {
    method,
    body,
    credentials: "same-origin",
    redirect: "error",
    headers: {
      Accept: "application/json",
      "X-CSRFToken": cookie("csrftoken"),
      ...(key ? { "Idempotency-Key": key } : {}),
      ...headers,
    },
  });
  const data = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Refusal(answer.status, data);
  return data;
}

async function failed(item, error) {
  if (!(error instanceof Refusal)) return wait(item, "The network is away.");
  const { status, problem } = error;
  const says = [
    problem.detail ?? error.message,
    ...(problem.errors ?? []).map((e) => e.detail),
    ...(problem.findings ?? [])
      .filter((f) => f.level === "STOP")
      .map((f) => `${f.message} ${f.do ?? ""}${f.who ? ` Who can act: ${f.who}.` : ""}`),
  ];
  if (status === 401 || status === 403)
    await change(item.key, { state: "SIGN_IN", says: ["Sign in again; nothing is lost."] });
  else if (status === 412)
    await change(item.key, {
      state: "CONFLICT",
      says,
      now: problem.order ?? problem.access ?? null,
    });
  else if (status === 404)
    await change(item.key, {
      state: "CONFLICT",
      says: ["The order is no longer with your company. Call the office before you discard this."],
      now: null,
    });
  else if (status === 429 || status >= 500)
    return wait(item, "The program did not answer; it is tried again.");
  else
    await change(item.key, {
      state: "REFUSED",
      says,
      mayGo: (problem.type ?? "").endsWith("stops-first"),
    });
  return true;
}

async function wait(item, sentence) {
  const tries = (item.tries ?? 0) + 1;
  const pause = Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** Math.min(tries - 1, 10));
  await change(item.key, { state: "WAITING", tries, nextAt: Date.now() + pause, says: [sentence] });
  return false;
}

// The network is back, or somebody signed in again: everything that waits goes now.
export async function wake() {
  for (const item of await store.all("outbox")) {
    if (item.state === "WAITING" || item.state === "SIGN_IN" || item.state === "SENDING")
      await change(item.key, { state: "WAITING", nextAt: 0 });
  }
  return sendAll();
}
