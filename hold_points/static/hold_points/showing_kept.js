// Shows what is kept on this tablet: one line on every page, beside each check, and where the walk goes on.

import { listKept } from "./kept_store.js";
import { person, say, sayAct, sayTime } from "./kept_words.js";
import { askWho } from "./sending.js";

const line = document.querySelector("[data-kept-line]");
const SAID = "kept:said";

function make(tag, className, text = "") {
  const one = document.createElement(tag);
  one.className = className;
  one.textContent = text;
  return one;
}

function sayHere(item) {
  const name = item.state === "refused" ? "here-refused" : "here";
  return say(name, { what: sayAct(item), time: sayTime(item.at) });
}

function showLine(items, state) {
  if (!line) return;
  const waiting = items.filter((one) => one.state === "waiting");
  const refused = items.length - waiting.length;
  const others = waiting.find((one) => one.person !== person);
  const parts = [];
  if (waiting.length) parts.push(say(waiting.length === 1 ? "waits-one" : "waits", { n: waiting.length, time: sayTime(waiting[0].at) }));
  if (refused) parts.push(say(refused === 1 ? "refused-one" : "refused", { n: refused }));
  if (others) parts.push(say("others", { name: others.personName }));
  if (state === "signed out" && waiting.length) parts.push(say("signed-out"));
  if (state === "trouble") parts.push(say("store-trouble"));
  line.hidden = !parts.length;
  line.querySelector("[data-kept-text]").textContent = parts.join(" ");
  line.querySelector("[data-kept-sign-in]").hidden = state !== "signed out" || !waiting.length;
}

// Beside each check of a room's list, and on the check's own page.
function showBesideChecks(items) {
  for (const old of document.querySelectorAll(".kept-here")) old.remove();
  const own = items.filter((one) => one.person === person);
  for (const link of document.querySelectorAll("a.line__what[href]")) {
    for (const item of own.filter((one) => one.page === new URL(link.href).pathname)) {
      link.closest(".line").append(make("span", "kept-here", sayHere(item)));
    }
  }
  const here = document.querySelector("[data-kept-for]");
  if (!here) return;
  const mine = own.filter((one) => one.check === Number(here.dataset.keptFor));
  here.replaceChildren(...mine.map((one) => make("p", "kept-here", sayHere(one))));
  here.hidden = !mine.length;
  const judged = mine.filter((one) => one.act !== "photo" && one.state === "waiting").at(-1);
  const form = document.querySelector("form.judge[data-accept]");
  // Who judges again has seen what was kept; what the server shows since is newer than that.
  if (judged && form) form.elements.namedItem("seen").value = judged.id;
}

export async function showKept(state = "") {
  let items = [];
  try {
    items = await listKept();
  } catch {
    state = "trouble";
  }
  showLine(items, state);
  showBesideChecks(items);
  return items;
}

export function sayOnPage(words, tone = "kept") {
  const place = document.getElementById("messages");
  let list = place.querySelector("ul");
  if (!list) {
    list = make("ul", "messages");
    place.append(list);
  }
  list.append(make("li", `message message--${tone}`, words));
}

// What was said on the page before, which led here.
export function sayWhatWasKept() {
  const words = sessionStorage.getItem(SAID);
  sessionStorage.removeItem(SAID);
  if (words) sayOnPage(words);
}

export function sayKept(item) {
  sayOnPage(say("kept", { what: item.what, act: sayAct(item) }));
  document.getElementById("messages").scrollIntoView();
}

// A browser's own error page must not come instead: that would be the end of the walk.
async function canGoTo(address) {
  const copies = navigator.serviceWorker?.controller && "caches" in window;
  if (copies && (await caches.match(address, { ignoreVary: true }))) return true;
  return Boolean(await askWho());
}

// The next check of this room that nobody has judged and nothing is kept for; then the room itself.
export async function goOn(form, item) {
  const words = say("kept", { what: item.what, act: sayAct(item) });
  const kept = new Set((await listKept()).filter((one) => one.act !== "photo").map((one) => one.page));
  const links = [...document.querySelectorAll("#room-checks + .lines a.line__what")];
  const at = links.findIndex((one) => one.hasAttribute("aria-current"));
  const open = [...links.slice(at + 1), ...links.slice(0, Math.max(at, 0))].filter(
    (one) => one.closest(".line").querySelector(".verdict--open") && !kept.has(new URL(one.href).pathname),
  );
  const next = open[0]?.href ?? form.dataset.room;
  if (await canGoTo(next)) {
    sessionStorage.setItem(SAID, words);
    location.assign(next);
    return;
  }
  sayOnPage(words);
  sayOnPage(say("next-not-along"), "warning");
  document.getElementById("messages").scrollIntoView();
}
