// The offline walk: starts its parts on every page under walks/. Each part has its own file.

import "./keeping.js";
import { startKeptPage } from "./kept_page.js";
import { addresses, offline, person } from "./kept_words.js";
import { startSending } from "./sending.js";
import { sayOnPage, sayWhatWasKept, showKept } from "./showing_kept.js";
import { takeAlong } from "./taking_along.js";

async function start() {
  sayWhatWasKept();
  document.addEventListener("kept:changed", (event) => {
    const { state, recorded } = event.detail;
    showKept(state);
    if (state !== "sending") for (const one of recorded) if (one.words) sayOnPage(one.words, "success");
  });
  await showKept();
  await startKeptPage();
  startSending();
  await takeAlong();
}

// Turned off by the builder: no copies any more, but what was kept before is still shown and sent.
async function takeAway() {
  const registration = await navigator.serviceWorker?.getRegistration(addresses.kept);
  await registration?.unregister();
  if (!("caches" in window)) return;
  for (const name of await caches.keys()) if (name.startsWith("walks:")) await caches.delete(name);
}

if (person && window.isSecureContext && "indexedDB" in window) {
  start();
  if (!offline) takeAway();
}
