// The app without a network. Its own files are kept, all of one edition; nothing that the service answers is. A new
// edition waits until somebody takes it up, never in the middle of a run.
const EDITION = "%EDITION%";
const CACHE = `bailee-sign-${EDITION}`;
const FILES = ["/sign/", ...%FILES%.map((name) => `/sign/f/${EDITION}/${name}`)];
const DESK = `/sign/f/${EDITION}/desk.js`; // kept where it was asked for once

// All of them or none.
const keep = (cache) => cache.addAll(FILES.map((each) => new Request(each, { cache: "reload" })));

self.addEventListener("install", (event) => event.waitUntil(caches.open(CACHE).then(keep)));

self.addEventListener("activate", (event) => {
  const old = (names) => names.filter((each) => each.startsWith("bailee-sign-") && each !== CACHE);
  const dropped = caches.keys().then((names) => Promise.all(old(names).map((each) => caches.delete(each))));
  event.waitUntil(dropped.then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data === "activate") self.skipWaiting();
  if (event.data !== "whole") return;
  event.waitUntil(isWhole().catch(() => false).then((is) => event.ports[0].postMessage(is)));
});

// Whether every file is kept; what the browser dropped is fetched again, where there is a network.
async function isWhole() {
  const cache = await caches.open(CACHE);
  const kept = new Set((await cache.keys()).map(({ url }) => new URL(url).pathname));
  if (!FILES.every((each) => kept.has(each))) await keep(cache);
  return true;
}

self.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  const isOurs = event.request.method === "GET" && origin === self.location.origin && [...FILES, DESK].includes(pathname);
  if (!isOurs) return;
  const kept = caches.match(pathname, { cacheName: CACHE });
  event.respondWith(kept.then((found) => found ?? fetched(event.request, pathname)));
});

async function fetched(request, pathname) {
  const answer = await fetch(request);
  if (pathname === DESK && answer.ok) await (await caches.open(CACHE)).put(pathname, answer.clone());
  return answer;
}
