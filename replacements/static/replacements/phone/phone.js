// The phone's start: its worker, its orders, the way from one screen to the next.
import * as card from "./card.js";
import * as list from "./list.js";
import * as outbox from "./outbox.js";
import * as sent from "./sent.js";
import * as store from "./store.js";
import * as visits from "./visits.js";
import * as words from "./words.js";
import * as work from "./work.js";

const screen = document.getElementById("screen");
const ROUTES = [
  [/^#?\/?$/, list.orders],
  [/^#\/order\/(\d+)$/, list.order],
  [/^#\/order\/(\d+)\/card(?:\/(\w+))?$/, card.before],
  [/^#\/order\/(\d+)\/done(?:\/(\w+))?$/, card.after],
  [/^#\/order\/(\d+)\/record$/, work.record],
  [/^#\/order\/(\d+)\/access$/, visits.access],
  [/^#\/order\/(\d+)\/attempt$/, visits.attempt],
  [/^#\/order\/(\d+)\/consent$/, visits.consent],
  [/^#\/order\/(\d+)\/appointment$/, visits.appointment],
  [/^#\/outbox$/, sent.waiting],
  [/^#\/outbox\/([\w-]+)$/, sent.item],
];

// A screen that is drawn slowly must not cover the one that was asked for after it.
let asked = 0;
let toTop = false; // a new screen waits to be begun at its top, whoever draws it

async function show(focus = true) {
  const [mine, hash] = [++asked, location.hash];
  toTop ||= focus;
  for (const [pattern, draw] of ROUTES) {
    const found = hash.match(pattern);
    if (!found) continue;
    const parts = await draw(found[1], found[2]);
    if (mine !== asked) return;
    screen.replaceChildren(...parts);
    screen.dataset.route = hash;
    if (toTop) {
      toTop = false;
      screen.focus({ preventScroll: true });
      window.scrollTo(0, 0);
    }
    return;
  }
  location.hash = "#/";
}

// The crew's language and units, and the two buttons that change them.
async function speak(change = {}) {
  const [kept, forms] = [await store.get("kept", "tongue"), await store.get("kept", "forms")];
  const { language = "en", metric = false } = { ...kept, ...change };
  if (Object.keys(change).length) await store.put("kept", { key: "tongue", language, metric });
  words.speak(language, metric, forms?.words?.[language]);
  const [tongue, units] = [document.getElementById("tongue"), document.getElementById("units")];
  tongue.textContent = language === "es" ? "English" : "Español";
  tongue.lang = language === "es" ? "en" : "es";
  tongue.onclick = () => speak({ language: language === "es" ? "en" : "es" }).then(again);
  units.textContent = metric ? "ft, lb" : "+ m, kN";
  units.onclick = () => speak({ metric: !metric }).then(again);
  document.querySelector(".phone-home").textContent = words.say("Orders");
}
const again = () => Promise.all([show(), chip(), network()]);

async function chip() {
  const items = (await store.all("outbox")).filter((item) => item.state !== "SENT");
  const bad = items.filter((item) =>
    ["CONFLICT", "REFUSED", "SIGN_IN"].includes(item.state),
  ).length;
  const link = document.getElementById("waiting");
  link.textContent = words.say(items.length ? `${items.length} not sent` : "All sent");
  link.className = `phone-waiting${bad ? " bad" : items.length ? " some" : ""}`;
}

function network() {
  const box = document.getElementById("network");
  box.textContent = navigator.onLine ? "" : words.say("No network: all is kept here");
  box.classList.toggle("away", !navigator.onLine);
}

async function refresh() {
  const known = await store.get("kept", "user");
  try {
    const options = {
      credentials: "same-origin",
      headers: { Accept: "application/json" },
      redirect: "error",
    };
    const [orders, forms] = await Promise.all([
      fetch("/work/phone/orders.json", options),
      fetch("/work/phone/forms.json", options),
    ]);
    if (orders.status === 401 || orders.status === 403) {
      await store.put("kept", { key: "signed", out: true });
      return;
    }
    if (!orders.ok || !forms.ok) return;
    const data = await orders.json();
    await store.put("kept", { key: "forms", ...(await forms.json()) });
    await speak();
    await store.put("kept", { key: "user", name: data.user });
    await store.put("kept", { key: "signed", out: false });
    await store.put("kept", { key: "day", today: data.today, at: Date.now() });
    await store.keepOrders(data.orders);
    if (known && known.name !== data.user) await outbox.wake();
  } catch {
    /* no network: what is kept stands */
  }
}

const isForm = () =>
  /\/(card|done|record|attempt|consent|appointment)(\/\w+)?$/.test(location.hash);

async function begin() {
  await speak();
  network();
  window.addEventListener("hashchange", () => show());
  window.addEventListener("offline", network);
  window.addEventListener("online", async () => {
    network();
    await refresh();
    await outbox.wake();
    if (!isForm()) show(false);
  });
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) outbox.wake();
  });
  outbox.onSent(async () => {
    await refresh();
    if (!isForm()) show(false);
  });
  outbox.onChange(() => {
    chip();
    if (!isForm()) show(false);
  });
  if ("serviceWorker" in navigator)
    await navigator.serviceWorker
      .register("/work/phone/worker.js", { scope: "/work/phone/" })
      .catch(() => null);
  store.askToKeep();
  await chip();
  if ((await store.all("orders")).length) await show();
  await refresh();
  if (!isForm()) await show();
  await outbox.wake();
  document.body.dataset.ready = "yes";
}
begin();
