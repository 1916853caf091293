// Keeps the page offline where it is opened from a web server: it is fetched once and served from the store ever after;
// a newer file on the server takes its place at the next visit. Stands beside rewound.html as rewound-offline.js.
const STORE = "rewound-1";

self.addEventListener("install", (event) => {
  event.waitUntil(self.skipWaiting());
});
self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || event.request.mode !== "navigate") return;
  event.respondWith(
    (async () => {
      const store = await caches.open(STORE);
      try {
        const fresh = await fetch(event.request);
        if (fresh.ok) await store.put(event.request, fresh.clone());
        return fresh;
      } catch (trouble) {
        const kept = await store.match(event.request, { ignoreSearch: true });
        if (kept) return kept;
        throw trouble;
      }
    })(),
  );
});
