// Keeps a person's page readable without a network: the newest copy from the farm, else the last one seen.
"use strict";
const NAME = "fitground-1";
const PARTS = ["/static/site.css", "/static/crew.js"];
self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(PARTS)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET") return;
  event.respondWith((async () => {
    const cache = await caches.open(NAME);
    try {
      const answer = await fetch(event.request);
      if (answer.ok) cache.put(event.request, answer.clone());
      if (answer.status === 403) await cache.delete(event.request);
      return answer;
    } catch (error) {
      const kept = await cache.match(event.request, { ignoreSearch: false });
      if (kept) return kept;
      throw error;
    }
  })());
});
