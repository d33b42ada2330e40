// Shows the copies that were taken along, when the network fails. The server puts VERSION in front.
// It writes no copy itself and touches nothing that is sent: a page with reception is always the server's own.

const PATIENCE = 10000; // milliseconds; then a copy is better than an empty screen
const OLDEST = 3 * 24 * 60 * 60 * 1000; // milliseconds; nobody judges from an older copy
const KEPT = "walks-kept";

// Only looks: a database that is not there yet is not made here.
function countKept() {
  return new Promise((resolve) => {
    const asked = indexedDB.open(KEPT);
    asked.onupgradeneeded = () => asked.transaction.abort();
    asked.onerror = () => resolve(0);
    asked.onsuccess = () => {
      const database = asked.result;
      const end = (count) => {
        database.close();
        resolve(count);
      };
      const counted = database.transaction("items").objectStore("items").count();
      counted.onsuccess = () => end(counted.result);
      counted.onerror = () => end(1);
    };
  });
}

// A new worker waits as long as something waits to be sent: nothing changes in the middle of that.
self.addEventListener("install", (event) => {
  event.waitUntil(countKept().then((count) => (count ? undefined : self.skipWaiting())));
});

self.addEventListener("message", (event) => {
  if (event.data === "nothing waits") self.skipWaiting();
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function findCopy(request) {
  const names = (await caches.keys()).filter((name) => name.startsWith("walks:"));
  // This version's first; those of the last one serve until the walk was taken along anew.
  names.sort((one, other) => other.includes(VERSION) - one.includes(VERSION));
  for (const name of names) {
    const cache = await caches.open(name);
    const exact = await cache.match(request, { ignoreVary: true });
    if (exact) return exact;
  }
  const page = request.mode === "navigate" && !new URL(request.url).searchParams.has("room");
  for (const name of page ? names : []) {
    // A walk opens at its first room; how a list was filtered is not kept.
    const near = await (await caches.open(name)).match(request, { ignoreSearch: true, ignoreVary: true });
    if (near) return near;
  }
  return undefined;
}

// The page has said all along, hidden, as of when it is; a copy shows that.
async function showAsCopy(copy) {
  if (Date.now() - Number(copy.headers.get("Walks-Taken")) > OLDEST) return undefined;
  const text = (await copy.text()).replace("data-copied hidden", "data-copied");
  const headers = new Headers(copy.headers);
  headers.set("Cache-Control", "no-store");
  return new Response(text, { status: 200, headers });
}

async function answerPage(request) {
  const network = fetch(request);
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE, undefined));
  try {
    const came = await Promise.race([network, late]);
    if (came) return came;
  } catch {
    // No network: the copy, below.
  }
  const copy = await findCopy(request);
  return (copy && (await showAsCopy(copy))) || network;
}

async function answerFile(request) {
  try {
    return await fetch(request);
  } catch (failure) {
    const copy = await findCopy(request);
    if (copy) return copy;
    throw failure;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(answerPage(request));
  else if (["script", "style", "image", "font"].includes(request.destination)) event.respondWith(answerFile(request));
});
