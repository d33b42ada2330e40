// A check's form: sent while there is reception, else kept on this tablet, and the walk goes on.

import { findWrong, LARGEST } from "./entered.js";
import { keep, listKept, newId } from "./kept_store.js";
import { isCopy, offline, person, personName, say } from "./kept_words.js";
import { askWho, sendKept } from "./sending.js";
import { goOn, sayKept, showKept } from "./showing_kept.js";

const PATIENCE = 20000; // milliseconds until a form counts as not arrived
const PATIENCE_PHOTO = 90000;

const form = document.querySelector("form.judge[data-accept]");
const chooser = form?.querySelector('input[type="file"]');
const trouble = document.getElementById("photo-refused");
const settled = new WeakSet(); // photographs that arrived or are kept already
let passing = false;
let busy = false;

// Whether this page keeps what cannot be sent.
export const keeps = Boolean(form) && offline && Boolean(person);

function sayTrouble(words, calm = false) {
  const line = document.createElement("p");
  line.className = calm ? "kept-said" : "field-error";
  line.textContent = words;
  trouble.replaceChildren(line);
  trouble.scrollIntoView({ block: "center" });
}

function sayWhyNotKept(failure) {
  if (failure.name === "QuotaExceededError") return say("no-room");
  return say("not-kept", { why: failure.message || failure.name });
}

function describe(act) {
  const value = (name) => form.elements.namedItem(name)?.value ?? "";
  const ticked = (name) => {
    const box = form.elements.namedItem(name);
    return Boolean(box && (box.type === "hidden" ? box.value : box.checked));
  };
  return {
    id: value("id"),
    person,
    personName,
    inspection: Number(form.dataset.inspection),
    check: Number(form.dataset.check),
    what: form.dataset.what.replace(/\.$/, ""),
    page: location.pathname,
    address: form.dataset.accept,
    unit: form.dataset.unit,
    act,
    value: act === "photo" ? "" : value("value"),
    note: act === "photo" ? "" : value("note"),
    own_hand: act !== "photo" && ticked("own_hand"),
    from_photograph: act !== "photo" && ticked("from_photograph"),
    seen: value("seen"),
    shown: form.dataset.shown,
    at: new Date().toISOString(),
  };
}

export async function keepPhoto(file) {
  if (settled.has(file)) return;
  await keep({ ...describe("photo"), id: newId() }, file);
  settled.add(file);
  form.dataset.photosHere = String(Number(form.dataset.photosHere || 0) + 1);
}

// Called when the photograph that htmx was sending did not arrive.
export async function keepUnsentPhoto(file) {
  try {
    await keepPhoto(file);
    chooser.value = "";
    sayTrouble(say("photo-kept"), true);
    await showKept();
  } catch (failure) {
    sayTrouble(sayWhyNotKept(failure));
  }
}

export function notePhotoArrived(file) {
  settled.add(file);
}

function unsentPhoto() {
  const file = chooser?.files[0];
  return file && !settled.has(file) ? file : null;
}

async function keepAct(act, signedOut) {
  const file = unsentPhoto();
  if (act === "photo") {
    if (file) await keepUnsentPhoto(file);
    else sayTrouble(say("no-photo"));
    return;
  }
  const item = describe(act);
  const photos = Number(form.dataset.photos || 0) + Number(form.dataset.photosHere || 0);
  const wrong = findWrong(form.dataset, { ...item, hasPhoto: Boolean(file) || photos > 0 });
  if (wrong) {
    sayTrouble(wrong);
    return;
  }
  if (act === "not met" && !form.elements.namedItem("sure")) {
    askWhetherSure();
    return;
  }
  try {
    if (file) await keepPhoto(file);
    await keep(item);
  } catch (failure) {
    sayTrouble(sayWhyNotKept(failure));
    return;
  }
  // The next press is another act; what is kept already is what it has seen.
  form.elements.namedItem("id").value = newId();
  form.elements.namedItem("seen").value = item.id;
  form.querySelector(".sure")?.remove();
  if (signedOut) {
    // With reception every other page would be the one for signing in: first say that nothing is lost.
    await showKept("signed out");
    sayKept(item);
    return;
  }
  await showKept();
  await goOn(form, item);
}

// The second press lies elsewhere, as on the server's own page: rain and gloves press twice in one place.
function askWhetherSure() {
  const panel = document.createElement("div");
  panel.className = "sure";
  panel.setAttribute("role", "alert");
  const [asked, more, acts] = ["p", "p", "p"].map((tag) => panel.appendChild(document.createElement(tag)));
  asked.append(Object.assign(document.createElement("b"), { textContent: say("sure") }));
  more.textContent = say("sure-more");
  acts.className = "actions";
  const button = (className, textContent, more) =>
    Object.assign(document.createElement("button"), { className: `btn btn--field ${className}`, textContent, ...more });
  const yes = button("btn--held", say("sure-yes"), { type: "submit", name: "act", value: "not met" });
  const no = button("btn--quiet", say("sure-no"), { type: "button" });
  no.addEventListener("click", () => panel.remove());
  acts.append(yes, " ", no);
  panel.append(Object.assign(document.createElement("input"), { type: "hidden", name: "sure", value: "yes" }));
  form.prepend(panel);
  panel.scrollIntoView({ block: "center" });
  yes.focus({ preventScroll: true });
}

// 'go': recorded, and where it leads. 'page': the server has something to say. 'none': it did not arrive.
async function send(submitter) {
  if (!navigator.onLine) return { kind: "none" };
  const body = new FormData(form, submitter);
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      body,
      headers: { "Walks-Sent": "yes" },
      signal: AbortSignal.timeout(chooser?.files.length ? PATIENCE_PHOTO : PATIENCE),
    });
    if (answer.headers.get("Content-Type")?.startsWith("application/json")) {
      return { kind: "go", address: (await answer.json()).go };
    }
    if (answer.redirected || answer.status === 401) return { kind: "signed out" };
    if (answer.status !== 403) return { kind: "page" };
  } catch {
    return { kind: "none" };
  }
  // Refused, or only the form's token is old (signed in again since): a fresh one tells which.
  const who = await askWho();
  if (who?.person !== person) return { kind: "signed out" };
  form.elements.namedItem("csrfmiddlewaretoken").value = who.token;
  return { kind: "page" };
}

async function judge(submitter) {
  const act = submitter.value;
  // What is kept for this check goes first; then this, in its turn.
  const before = (await listKept()).some(
    (one) => one.check === Number(form.dataset.check) && one.person === person && one.state === "waiting",
  );
  const answer = before ? { kind: "none" } : await send(submitter);
  if (answer.kind === "go") {
    location.assign(answer.address);
  } else if (answer.kind === "page") {
    passing = true;
    form.requestSubmit(submitter);
  } else {
    await keepAct(act, answer.kind === "signed out");
    if (before) sendKept();
  }
}

function listen() {
  form.addEventListener("submit", async (event) => {
    const { submitter } = event;
    if (passing || !submitter || submitter.value === "back") {
      passing = false;
      return;
    }
    event.preventDefault();
    if (busy) return;
    busy = true;
    submitter.setAttribute("aria-busy", "true");
    try {
      await judge(submitter);
    } finally {
      busy = false;
      submitter.removeAttribute("aria-busy");
    }
  });
  // Before htmx sends it: the server would refuse it after minutes of sending.
  chooser?.addEventListener(
    "change",
    (event) => {
      const file = chooser.files[0];
      if (!file || file.size <= LARGEST) return;
      event.stopImmediatePropagation();
      chooser.value = "";
      sayTrouble(say("photo-large"));
    },
    { capture: true },
  );
}

if (keeps) {
  // A copy may have served before: its own id is perhaps on the record already.
  if (isCopy) form.elements.namedItem("id").value = newId();
  listen();
}
