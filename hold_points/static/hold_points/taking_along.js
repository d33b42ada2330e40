// Takes the pages of a walk along while there is reception, and says how many of them are on this tablet.
// Only these copies are ever shown without reception; the worker itself keeps none.

import { addresses, isCopy, offline, person, say, sayTime } from "./kept_words.js";

const OLDEST = 3 * 24 * 60 * 60 * 1000; // milliseconds; as in worker.js
const FRESH = 10 * 60 * 1000; // how long a page without a mark of its own passes
const MOST_WALKS = 8; // that the list of walks takes along; a walk that is opened always is

const nameOf = (version) => `walks:${version}:${person}`;

async function readList(address) {
  const answer = await fetch(address, { cache: "no-store" });
  if (!answer.ok || answer.redirected) throw new Error(`the list of pages was answered with ${answer.status}`);
  const list = await answer.json();
  if (list.person !== person) throw new Error("somebody else is signed in");
  return list;
}

async function isThere(cache, page) {
  const copy = await cache.match(page.address, { ignoreVary: true });
  if (!copy) return false;
  if (page.mark) return copy.headers.get("Walks-Mark") === page.mark;
  return Date.now() - Number(copy.headers.get("Walks-Taken")) < FRESH;
}

// No page of somebody else, no error and no sign-in page gets here: the server names for whom each page is.
async function takePage(cache, page) {
  const answer = await fetch(page.address, { cache: "no-store", headers: { "Walks-Copy": "yes" } });
  if (!answer.ok || answer.redirected || Number(answer.headers.get("Walks-Of")) !== person) return false;
  const headers = new Headers({
    "Content-Type": answer.headers.get("Content-Type"),
    "Content-Security-Policy": answer.headers.get("Content-Security-Policy") ?? "default-src 'self'",
    "Walks-Mark": page.mark ?? "",
    "Walks-Taken": String(Date.now()),
  });
  await cache.put(page.address, new Response(await answer.blob(), { headers }));
  return true;
}

// The files that this page has loaded are those that every page on site needs.
async function takeFiles(cache) {
  const base = new URL("../", import.meta.url).href;
  const loaded = performance.getEntriesByType("resource").map((one) => one.name);
  const files = new Set([...loaded, import.meta.url].filter((name) => name.startsWith(base)));
  for (const script of document.querySelectorAll("script[src], link[rel~=icon], link[rel=stylesheet]")) {
    files.add(script.src || script.href);
  }
  for (const file of files) {
    if (new URL(file).origin !== location.origin || (await cache.match(file, { ignoreVary: true }))) continue;
    const answer = await fetch(file);
    if (answer.ok) await cache.put(file, answer);
  }
}

async function forgetOthers(name) {
  for (const other of await caches.keys()) if (other.startsWith("walks:") && other !== name) await caches.delete(other);
  const cache = await caches.open(name);
  for (const request of await cache.keys()) {
    const taken = (await cache.match(request)).headers.get("Walks-Taken");
    if (taken && Date.now() - Number(taken) > OLDEST) await cache.delete(request);
  }
}

async function takeWalks(lists, tell) {
  const read = [];
  for (const address of lists) read.push(await readList(address));
  const always = read[0]?.always ?? [];
  const pages = new Map([...read.flatMap((list) => list.pages), ...always.map((address) => ({ address }))].map(
    (page) => [page.address, page],
  ));
  const name = nameOf(read[0].version);
  const cache = await caches.open(name);
  await takeFiles(cache);
  let missing = 0;
  let done = 0;
  for (const page of pages.values()) {
    if (!(await isThere(cache, page)) && !(await takePage(cache, page))) missing += 1;
    done += 1;
    tell("taking", { done, all: pages.size });
  }
  if (!missing) await forgetOthers(name);
  return { missing, all: pages.size };
}

// What the copies on this tablet say of a walk, without asking anybody.
async function lookWhatIsThere(line) {
  const walk = line.dataset.along.replace(/along\/$/, "");
  for (const name of (await caches.keys()).filter((one) => one.endsWith(`:${person}`))) {
    const taken = [];
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      if (new URL(request.url).pathname === walk) taken.push(await cache.match(request));
    }
    const oldest = Math.min(...taken.map((one) => Number(one.headers.get("Walks-Taken"))));
    if (taken.length) return say("taken-copy", { when: sayTime(oldest, true) });
  }
  return "";
}

export async function takeAlong() {
  const line = document.querySelector("[data-along-line]");
  const lists = [...document.querySelectorAll("[data-along]")].map((one) => one.dataset.along).slice(0, MOST_WALKS);
  if (!offline || !lists.length || !("caches" in window) || !navigator.serviceWorker) return;
  const tell = (name, values = {}) => {
    if (!line) return;
    line.hidden = false;
    line.textContent = say(name, values);
  };
  if (isCopy) {
    const there = line?.dataset.along ? await lookWhatIsThere(line) : "";
    if (there) {
      line.hidden = false;
      line.textContent = there;
    }
    return;
  }
  try {
    await navigator.serviceWorker.register(addresses.worker, { scope: "/walks/" });
    await navigator.storage?.persist?.();
    const { missing, all } = await takeWalks(lists, tell);
    const when = sayTime(Date.now(), true);
    if (missing) tell("taken-missing", { missing, all, when });
    else tell("taken", { all, when });
    document.documentElement.dataset.takenAlong = missing ? "missing" : "all";
  } catch (failure) {
    tell(failure.name === "QuotaExceededError" ? "taken-no-room" : "taken-not", { why: failure.message });
  }
}
