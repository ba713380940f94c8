// Keeps all files of the page, so that it works without a network. VERSION and FILES are put in when the site is made.

const VERSION = "@VERSION@";
const FILES = "@FILES@";
const PREFIX = "desk ";

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const kept = await caches.open(PREFIX + VERSION);
    await Promise.all(FILES.map(async (file) => {
      const answer = await fetch(new Request(file, { cache: "no-cache" }));
      if (!answer.ok) throw new Error(`${file}: ${answer.status}`);
      await kept.put(file, answer);
    }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith(PREFIX) && name !== PREFIX + VERSION) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || new URL(event.request.url).origin !== location.origin) return;
  event.respondWith((async () => {
    const kept = await caches.open(PREFIX + VERSION);
    const found = await kept.match(event.request, { ignoreSearch: true });
    if (found) return found;
    if (event.request.mode === "navigate") {
      const page = await kept.match("./index.html");
      if (page) return page;
    }
    return fetch(event.request);
  })());
});
