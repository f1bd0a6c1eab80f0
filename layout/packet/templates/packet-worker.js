"use strict";
// Keeps a served packet page, so that it opens without a network: the newest there is, else the one kept.
const STORE = "lapwright " + self.registration.scope;
const KEPT = ["packet.html", "packet.webmanifest"];

self.addEventListener("install", function (event) {
  event.waitUntil(caches.open(STORE).then(function (store) { return store.addAll(KEPT); }).then(function () {
    return self.skipWaiting();
  }));
});
self.addEventListener("activate", function (event) { event.waitUntil(self.clients.claim()); });
self.addEventListener("fetch", function (event) {
  const place = new URL(event.request.url);
  const name = place.pathname.split("/").pop();
  if (event.request.method !== "GET" || place.origin !== self.location.origin || !KEPT.includes(name)) { return; }
  event.respondWith(fetch(event.request).then(function (answer) {
    if (!answer.ok) { return answer; }
    const copy = answer.clone();
    return caches.open(STORE).then(function (store) { return store.put(name, copy); }).then(function () { return answer; });
  }).catch(function () {
    return caches.open(STORE).then(function (store) { return store.match(name); }).then(function (kept) {
      return kept || Response.error();
    });
  }));
});
