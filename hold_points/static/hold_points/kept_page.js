// The page 'Kept on this tablet': what waits, what was refused and why, and the ways on for each.

import { drop, listKept, photoOf } from "./kept_store.js";
import { person, say, sayAct, sayTime } from "./kept_words.js";
import { sendKept } from "./sending.js";

const lists = {
  refused: document.querySelector("[data-kept-refused]"),
  waiting: document.querySelector("[data-kept-waiting]"),
};

function make(tag, className, text = "") {
  const one = document.createElement(tag);
  one.className = className;
  one.textContent = text;
  return one;
}

function makeButton(words, act, kind = "btn--quiet") {
  const button = make("button", `btn ${kind}`, words);
  button.type = "button";
  button.addEventListener("click", act);
  return button;
}

// A way out where nothing else helps: everything of one act in one file, its photograph included.
async function save(item) {
  const bytes = await photoOf(item.id);
  const photo = bytes ? btoa(Array.from(new Uint8Array(bytes), (one) => String.fromCharCode(one)).join("")) : null;
  const file = new Blob([JSON.stringify({ ...item, photo }, null, 2)], { type: "application/json" });
  const link = make("a", "");
  link.href = URL.createObjectURL(file);
  link.download = `kept-${item.id}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

function openCheck(item) {
  const refused = item.state === "refused";
  const words = item.answer?.address ? "open-room" : refused ? "open-check" : "open";
  const link = make("a", refused ? "btn btn--main" : "btn btn--quiet", say(words));
  link.href = item.answer?.address ?? item.page;
  return link;
}

// The second press lies elsewhere: below the question, not where the first was.
function askDiscard(item, row) {
  if (row.querySelector(".sure")) return;
  const panel = make("div", "sure");
  panel.setAttribute("role", "alert");
  panel.append(make("p", "", say("discard-sure", { what: item.what, act: sayAct(item) })));
  const acts = make("p", "actions");
  const yes = async () => {
    await drop(item.id);
    await show();
    document.dispatchEvent(new CustomEvent("kept:changed", { detail: { state: "discarded", recorded: [] } }));
  };
  acts.append(makeButton(say("discard-yes"), yes, "btn--held"), makeButton(say("discard-no"), () => panel.remove()));
  panel.append(acts);
  row.append(panel);
  panel.querySelector("button").focus();
}

function makeRow(item) {
  const row = make("li", item.state === "refused" ? "kept-row kept-row--refused" : "kept-row");
  row.dataset.keptId = item.id;
  row.append(make("p", "kept-row__what", item.what));
  const when = say("row", { act: sayAct(item), time: sayTime(item.at, true) });
  row.append(make("p", "", item.note ? `${when}. ${item.note}` : when));
  if (item.person !== person) row.append(make("p", "soft", say("others", { name: item.personName })));
  if (item.state === "refused") row.append(make("p", "field-error", item.answer.words));
  const acts = make("p", "actions");
  if (item.person === person) acts.append(openCheck(item));
  acts.append(makeButton(say("save"), () => save(item)));
  if (item.state === "refused" && item.person === person) acts.append(makeButton(say("discard"), () => askDiscard(item, row)));
  row.append(acts);
  return row;
}

async function show() {
  const items = await listKept();
  for (const [state, list] of Object.entries(lists)) {
    const these = items.filter((one) => one.state === state);
    list.replaceChildren(...these.map(makeRow));
    list.closest("section").hidden = !these.length;
  }
  document.querySelector("[data-kept-nothing]").hidden = items.length > 0;
  document.querySelector("[data-kept-now]").hidden = !items.some((one) => one.state === "waiting");
}

const ENDS = ["no reception", "signed out", "another person", "later", "trouble"];

export async function startKeptPage() {
  if (!lists.waiting) return;
  const status = document.querySelector("[data-kept-status]");
  const button = document.querySelector("[data-kept-send]");
  button.addEventListener("click", async () => {
    button.setAttribute("aria-busy", "true");
    status.textContent = say("sending");
    await sendKept();
    button.removeAttribute("aria-busy");
  });
  document.addEventListener("kept:changed", async (event) => {
    const { state } = event.detail;
    status.textContent = ENDS.includes(state) ? say(`end ${state}`) : "";
    // A question that is open is not taken away under somebody's finger.
    if (!document.querySelector(".kept-row .sure")) await show();
  });
  try {
    await show();
  } catch (failure) {
    status.textContent = say("not-read", { why: failure.message });
  }
}
