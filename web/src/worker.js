/**
 * Keeps the page's own files, so that it opens while the daemon is away. What the daemon measures is never kept here, and
 * asked of the daemon alone; the page itself remembers its last word (last.ts). The build (plugins/worker.ts) writes in
 * what $FILES, $VIEWS and $VERSION are.
 */
const FILES = $FILES;
const VIEWS = $VIEWS;
const OURS = "taffrail-";
const NAME = OURS + $VERSION;
/** A daemon that is there answers well within this, ms. */
const PATIENCE_MS = 2000;

self.addEventListener("install", (event) => event.waitUntil(fill()));
self.addEventListener("activate", (event) => event.waitUntil(settle()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (request.mode === "navigate") {
    if (VIEWS.includes(url.pathname)) event.respondWith(view(request));
  } else if (url.pathname.startsWith("/assets/") || FILES.includes(url.pathname + url.search)) {
    event.respondWith(file(request));
  }
});

async function fill() {
  const cache = await caches.open(NAME);
  // The name of an asset is one with its content; the browser may have it already.
  await cache.addAll(FILES.map((path) => new Request(path, { cache: path.startsWith("/assets/") ? "default" : "no-cache" })));
  // A page that is open stays as it is: it holds its program. The next to be loaded is of the new build.
  await self.skipWaiting();
}

async function settle() {
  const others = (await caches.keys()).filter((name) => name.startsWith(OURS) && name !== NAME);
  // The build before stays: a page of it may be open and still lack a part.
  await Promise.all(others.slice(0, -1).map((name) => caches.delete(name)));
  await self.clients.claim();
}

/** The document as the daemon has it, which may be of a new build; the kept one where the daemon is away. */
async function view(request) {
  const stop = new AbortController();
  const asked = fetch(request, { signal: stop.signal });
  const soon = await Promise.race([asked.catch(() => null), new Promise((resume) => setTimeout(resume, PATIENCE_MS, null))]);
  // An error may come from something between that answers in the daemon's place.
  if (soon && soon.status < 500) return soon;
  const kept = await (await caches.open(NAME)).match("/");
  if (!kept) return soon ?? asked;
  // A question into the silence would keep one of the browser's few connections.
  stop.abort();
  return kept;
}

/** A file whose address changes with its content: kept or asked for makes no difference. */
async function file(request) {
  return (await caches.match(request)) ?? fetch(request);
}
