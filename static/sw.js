// Offline start where the browser allows it: pages from the server first, the last copy without it.
const STORE = "midlimit-1";

self.addEventListener("install", (event) => {
  self.skipWaiting();
  // What is logged need not wait for this worker, where the browser can leave it out.
  const past = [{ condition: { requestMethod: "POST" }, source: "network" }];
  if (event.addRoutes) event.waitUntil(event.addRoutes(past).catch(() => {}));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const asked = event.request;
  const address = new URL(asked.url);
  if (asked.method !== "GET" || address.origin !== location.origin) return;
  if (address.pathname.startsWith("/static/")) event.respondWith(kept(asked));
  else if (asked.mode === "navigate") event.respondWith(fresh(asked));
});

// A page asks that what it shows now, and what it is made of, be kept for a start without the server.
self.addEventListener("message", (event) => event.waitUntil(keep(event.data)));

async function keep({ page, files }) {
  const store = await caches.open(STORE);
  await Promise.allSettled(files.map((file) => kept(new Request(file))));
  if (page) await remember(store, new Request(page));
}

async function kept(asked) {
  const store = await caches.open(STORE);
  return (await store.match(asked)) || remember(store, asked);
}

async function fresh(asked) {
  const store = await caches.open(STORE);
  try {
    return await remember(store, asked);
  } catch (error) {
    const copy = (await store.match(asked)) || (await store.match("/"));
    if (copy) return copy;
    throw error;
  }
}

async function remember(store, asked) {
  const answer = await fetch(asked);
  if (answer.ok && !answer.redirected) await store.put(asked, answer.clone());
  return answer;
}
