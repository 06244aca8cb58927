/*
 * The service worker of the phone form. The server puts RELEASE and SHELL in front of it.
 *
 * It keeps the shell only: files that are the same for everybody. It never sees
 * an API answer or a page with a person's name on it, and a new release waits
 * until the person taps "Update".
 */
/* global RELEASE, SHELL */

const PREFIX = 'tallygrove-phone-';
const CACHE = PREFIX + RELEASE;
const START = '/field/';

self.addEventListener('install', (event) => {
  const fresh = SHELL.map((path) => new Request(path, { cache: 'reload', credentials: 'omit' }));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(fresh)));
});

self.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener('message', (event) => {
  if (event.data === 'update') self.skipWaiting();
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== 'GET' || address.origin !== self.location.origin) return;
  const path = request.mode === 'navigate' && address.pathname === START ? START : address.pathname;
  if (!SHELL.includes(path)) return;
  event.respondWith(caches.open(CACHE).then((cache) => cache.match(path, { ignoreVary: true })).then((kept) => kept || fetch(request)));
});
