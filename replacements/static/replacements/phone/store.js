// What the phone keeps, in IndexedDB: orders, questions, unfinished drafts, and what is not sent.
// Everything is written as it is entered; a closed browser or an empty battery loses nothing.
const NAME = "work-on-the-phone";
const STORES = { orders: "id", drafts: "key", outbox: "key", kept: "key" };
let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES))
        asked.result.createObjectStore(name, { keyPath });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

async function within(store, mode, work) {
  const held = (await database()).transaction(store, mode, { durability: "strict" });
  const answer = work(held.objectStore(store));
  return new Promise((resolve, reject) => {
    held.oncomplete = () => resolve(answer.result);
    held.onerror = held.onabort = () => reject(held.error);
  });
}

export const get = (store, key) => within(store, "readonly", (s) => s.get(key));
export const all = (store) => within(store, "readonly", (s) => s.getAll());
export const put = (store, value) => within(store, "readwrite", (s) => s.put(value));
export const remove = (store, key) => within(store, "readwrite", (s) => s.delete(key));

// Replaces the orders by a fresh list; an order that went away stays while something of it waits.
export async function keepOrders(orders) {
  const [waiting, drafts] = [await all("outbox"), await all("drafts")];
  const needed = new Set(
    [...waiting.filter((i) => i.state !== "SENT"), ...drafts].map((i) => i.order),
  );
  const held = (await database()).transaction("orders", "readwrite");
  const store = held.objectStore("orders");
  const fresh = new Map(orders.map((order) => [order.id, order]));
  const known = store.getAll();
  known.onsuccess = () => {
    for (const order of known.result) {
      if (!fresh.has(order.id))
        needed.has(order.id) ? store.put({ ...order, gone: true }) : store.delete(order.id);
    }
    for (const order of fresh.values()) store.put(order);
  };
  return new Promise((resolve, reject) => {
    held.oncomplete = resolve;
    held.onerror = () => reject(held.error);
  });
}

// Asks the browser not to throw the kept things away when space runs short.
export function askToKeep() {
  return navigator.storage?.persist
    ? navigator.storage.persist().catch(() => false)
    : Promise.resolve(false);
}
