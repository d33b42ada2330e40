// Sends what was kept, one after the other in its order; each leaves the tablet only after the server's answer.

import { drop, listKept, markRefused, photoOf } from "./kept_store.js";
import { addresses } from "./kept_words.js";

const PATIENCE = 20000; // milliseconds for an act
const PATIENCE_PHOTO = 180000; // and for a photograph
const EVERY = 30000; // between two tries while the page is looked at
const ENDS = { recorded: "recorded", refused: "refused", "found otherwise": "refused", "check replaced": "refused" };

// Who is signed in, with a fresh token; null without reception.
export async function askWho() {
  try {
    const answer = await fetch(addresses.who, { cache: "no-store", signal: AbortSignal.timeout(8000) });
    if (answer.status === 401) return { person: 0 };
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

async function sendOne(item, token) {
  const form = new FormData();
  for (const name of ["id", "act", "value", "note", "seen", "at", "shown", "person"]) form.set(name, item[name] ?? "");
  for (const name of ["own_hand", "from_photograph"]) if (item[name]) form.set(name, "yes");
  let patience = PATIENCE;
  if (item.act === "photo") {
    const bytes = await photoOf(item.id);
    if (bytes) form.set("photo", new Blob([bytes], { type: item.type }), item.name || "photograph.jpg");
    patience = PATIENCE_PHOTO;
  }
  form.set("now", new Date().toISOString());
  const answer = await fetch(item.address, {
    method: "POST",
    body: form,
    headers: { "X-CSRFToken": token },
    redirect: "manual",
    signal: AbortSignal.timeout(patience),
  });
  const known = answer.headers.get("Content-Type")?.startsWith("application/json");
  // Anything else than a plain answer (an error of the server, a proxy's page) says nothing: it stays.
  return known ? await answer.json() : { answer: "later", status: answer.status };
}

async function sendAll() {
  const waiting = (await listKept()).filter((one) => one.state === "waiting");
  if (!waiting.length) return { state: "nothing waits", recorded: [] };
  const recorded = [];
  const who = await askWho();
  if (!who) return { state: "no reception", recorded };
  if (!who.person) return { state: "signed out", recorded };
  let state = "sent";
  const stopped = new Set();
  for (const item of waiting) {
    if (item.person !== who.person) {
      state = "another person";
      continue;
    }
    // What comes later for the same check must not go before it.
    if (stopped.has(item.check)) continue;
    let answer;
    try {
      answer = await sendOne(item, who.token);
    } catch {
      return { state: "no reception", recorded };
    }
    if (ENDS[answer.answer] === "recorded") {
      await drop(item.id);
      recorded.push({ ...item, words: answer.words });
    } else if (ENDS[answer.answer] === "refused") {
      await markRefused(item.id, answer);
      recorded.push({ ...item, refused: answer.words });
    } else if (["signed out", "another person"].includes(answer.answer)) {
      return { state: answer.answer, recorded };
    } else {
      stopped.add(item.check);
      state = "later";
    }
    tell({ state: "sending", recorded });
  }
  return { state, recorded };
}

function tell(result) {
  document.dispatchEvent(new CustomEvent("kept:changed", { detail: result }));
}

let running = null;

// Two tabs never send at once: the second waits, also for a page that is just going away, and sends what is left.
export function sendKept() {
  running ??= (async () => {
    try {
      const locks = navigator.locks;
      const result = locks ? await locks.request("walks-kept", sendAll) : await sendAll();
      if (result.state === "sent" || result.state === "nothing waits") await letNewWorkerIn();
      tell(result);
      return result;
    } catch (failure) {
      const result = { state: "trouble", recorded: [], failure };
      tell(result);
      return result;
    } finally {
      running = null;
    }
  })();
  return running;
}

async function letNewWorkerIn() {
  const registration = await navigator.serviceWorker?.getRegistration(addresses.kept);
  registration?.waiting?.postMessage("nothing waits");
}

export function startSending() {
  sendKept();
  window.addEventListener("online", sendKept);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && sendKept());
  setInterval(() => document.visibilityState === "visible" && sendKept(), EVERY);
}

