/// <reference lib="webworker" />
// Keeps the files of the page that registered it (`/worker.js?page=gate`), so that it starts without a network. Answers
// of the API are never kept here. A new version waits until no window of the page is open: it never takes over.

interface Shells {
  readonly [page: string]: { readonly version: string; readonly files: readonly string[] } | undefined;
}

const worker = self as unknown as ServiceWorkerGlobalScope;
// Filled in by the build.
declare const __SHELLS__: Shells;
const page = new URL(worker.location.href).searchParams.get('page') ?? '';
const shell = __SHELLS__[page] ?? { version: 'none', files: [] };
const prefix = `shell-${page}-`;
const cacheName = prefix + shell.version;
const address = `/${page}`;

async function install(): Promise<void> {
  const cache = await caches.open(cacheName);
  // Names of scripts and styles carry a hash; the page itself must not come from an older cache of the browser.
  await cache.addAll([new Request(address, { cache: 'reload' }), ...shell.files]);
}

async function removeOlder(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith(prefix) && name !== cacheName) await caches.delete(name);
  }
}

function keptFor(request: Request): string | undefined {
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== worker.location.origin) return undefined;
  if (request.mode === 'navigate') return pathname === address ? address : undefined;
  return shell.files.includes(pathname) ? pathname : undefined;
}

async function fromCache(kept: string, request: Request): Promise<Response> {
  const cache = await caches.open(cacheName);
  return (await cache.match(kept)) ?? fetch(request);
}

worker.addEventListener('install', (event) => event.waitUntil(install()));
worker.addEventListener('activate', (event) => event.waitUntil(removeOlder()));
worker.addEventListener('fetch', (event) => {
  const kept = keptFor(event.request);
  if (kept !== undefined) event.respondWith(fromCache(kept, event.request));
});
