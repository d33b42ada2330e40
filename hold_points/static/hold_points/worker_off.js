// Walks are not taken along any more: the worker takes its copies and itself away. What was kept is still sent.

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => {
  const clear = async () => {
    const names = (await caches.keys()).filter((name) => name.startsWith("walks:"));
    await Promise.all(names.map((name) => caches.delete(name)));
    await self.registration.unregister();
  };
  event.waitUntil(clear());
});
