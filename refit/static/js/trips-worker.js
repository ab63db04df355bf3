// Answers for trip sheets when there is no network, with what was kept when they were opened.
// Always asks the network first; keeps nothing that was not opened as a sheet.
'use strict';
const KEPT = 'refit-trips';
self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', event => event.waitUntil(self.clients.claim()));
self.addEventListener('fetch', event => {
  if (event.request.method !== 'GET') return;
  event.respondWith((async () => {
    const kept = await caches.open(KEPT);
    try {
      const answer = await fetch(event.request);
      if (answer.ok && !answer.redirected && await kept.match(event.request)) await kept.put(event.request, answer.clone());
      return answer;
    } catch (fault) {
      const found = await kept.match(event.request);
      if (found) return found;
      throw fault;
    }
  })());
});
