// The app without a network. Its own files are kept, all of one edition; nothing that the service answers is. A new
// edition waits until somebody takes it up, never in the middle of a run.
const EDITION = "%EDITION%";
const CACHE = `bailee-sign-${EDITION}`;
const FILES = ["/sign/", ...%FILES%.map((name) => `/sign/f/${EDITION}/${name}`)];

self.addEventListener("install", (event) => {
  const whole = (cache) => cache.addAll(FILES.map((each) => new Request(each, { cache: "reload" })));
  event.waitUntil(caches.open(CACHE).then(whole));
});

self.addEventListener("activate", (event) => {
  const old = (names) => names.filter((each) => each.startsWith("bailee-sign-") && each !== CACHE);
  const dropped = caches.keys().then((names) => Promise.all(old(names).map((each) => caches.delete(each))));
  event.waitUntil(dropped.then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data === "activate") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  const isOurs = event.request.method === "GET" && origin === self.location.origin && FILES.includes(pathname);
  if (!isOurs) return;
  const kept = caches.match(pathname, { cacheName: CACHE });
  event.respondWith(kept.then((found) => found ?? fetch(event.request)));
});
