// Keeps the phone's own pages and files, so that they open without a network. Nothing else: the
// orders and what was filled in live in the phone's database, and sending is the page's own matter.
"use strict";
const CACHE = "phone-{{ version }}";
const SHELL = "/work/phone/";
const FILES = '{{ assets|join:" "|escapejs }}'.split(" ");

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches
      .open(CACHE)
      .then((cache) => cache.addAll([SHELL, ...FILES]))
      .then(() => self.skipWaiting()),
  );
});
self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) =>
        Promise.all(
          names
            .filter((name) => name.startsWith("phone-") && name !== CACHE)
            .map((name) => caches.delete(name)),
        ),
      )
      .then(() => self.clients.claim()),
  );
});
self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin) return;
  if (event.request.mode === "navigate" && address.pathname === SHELL)
    event.respondWith(shell(event.request));
  else if (FILES.includes(address.pathname))
    event.respondWith(caches.match(address.pathname).then((kept) => kept ?? fetch(event.request)));
});

// The newest shell while the network answers within four seconds; the kept one otherwise.
async function shell(request) {
  const kept = await caches.match(SHELL);
  try {
    const answer = await fetch(request, kept ? { signal: AbortSignal.timeout(4000) } : {});
    if (answer.ok && !answer.redirected) (await caches.open(CACHE)).put(SHELL, answer.clone());
    return answer.status >= 500 && kept ? kept : answer;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}
