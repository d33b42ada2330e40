// Says when something was not sent, and keeps what was entered: on site there is often no reception.
// Without this script a form is sent as any other, and the browser says what went wrong.
// A check's own form keeps what does not go (keeping.js); every other form needs reception, and says so here.

import { keeps, keepUnsentPhoto, notePhotoArrived } from "./keeping.js";

const notice = document.querySelector("[data-reception]");
const nearPhoto = document.getElementById("photo-refused");
let failedBefore = false;
let waitingPhoto = null;

function say(words, place = notice) {
  const line = document.createElement("p");
  line.className = "field-error";
  line.textContent = words;
  place.replaceChildren(line);
  place.hidden = false;
}

function sayPhoto(words) {
  say(words, nearPhoto ?? notice);
}

// A photograph is sent by htmx as soon as it is taken. Other requests of the page repeat by themselves.
function chooserOf(event) {
  const asked = event.detail.requestConfig?.elt ?? event.detail.elt;
  return asked instanceof HTMLInputElement && asked.type === "file" ? asked : null;
}

async function hasReception() {
  try {
    await fetch(location.href, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(8000) });
    return true;
  } catch {
    return false;
  }
}

function listenForPhotographs() {
  const sent = new WeakMap(); // by request, so that another photograph chosen meanwhile is not taken for it
  document.body.addEventListener("htmx:beforeRequest", (event) => {
    const chooser = chooserOf(event);
    if (chooser?.files.length) sent.set(event.detail.xhr, chooser.files[0]);
  });
  for (const failure of ["htmx:sendError", "htmx:timeout"]) {
    document.body.addEventListener(failure, (event) => {
      const chooser = chooserOf(event);
      if (!chooser) return;
      failedBefore = true;
      const photo = sent.get(event.detail.xhr);
      if (keeps && photo) {
        keepUnsentPhoto(photo);
        return;
      }
      waitingPhoto = chooser;
      sayPhoto(notice.dataset.photo);
    });
  }
  document.body.addEventListener("htmx:responseError", (event) => {
    if (!chooserOf(event)) return;
    const photo = sent.get(event.detail.xhr);
    const signedOut = [401, 403].includes(event.detail.xhr.status);
    if (signedOut && keeps && photo) keepUnsentPhoto(photo);
    else sayPhoto(signedOut ? notice.dataset.signIn : notice.dataset.refused);
  });
  document.body.addEventListener("htmx:beforeSwap", (event) => {
    if (!chooserOf(event)) return;
    const { xhr, pathInfo } = event.detail;
    const photo = sent.get(xhr);
    // Whoever is signed out is led to another page; nothing of it belongs here.
    if (new URL(xhr.responseURL || location.href).pathname !== pathInfo.requestPath.split("?")[0]) {
      event.detail.shouldSwap = false;
      if (keeps && photo) keepUnsentPhoto(photo);
      else sayPhoto(notice.dataset.signIn);
    } else if (photo && xhr.status === 200) {
      notePhotoArrived(photo);
    }
  });
  window.addEventListener("online", () => {
    const chooser = waitingPhoto;
    waitingPhoto = null;
    if (chooser?.isConnected && chooser.files.length) window.htmx.trigger(chooser, "change");
  });
}

function listenForForms() {
  const passed = new WeakSet();
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || passed.delete(form)) return;
    if (form.hasAttribute("data-leave") || (navigator.onLine && !failedBefore)) return;
    event.preventDefault();
    if (!navigator.onLine || !(await hasReception())) {
      failedBefore = true;
      say(notice.dataset.nothingSent);
      notice.scrollIntoView({ block: "center" });
      return;
    }
    failedBefore = false;
    notice.hidden = true;
    passed.add(form);
    form.requestSubmit(event.submitter);
  });
}

if (notice) {
  listenForPhotographs();
  listenForForms();
}

// Strokes that were kept for going back have served once something is on the record.
if (document.querySelector(".message--success")) {
  for (const key of Object.keys(sessionStorage)) if (key.startsWith("signature:")) sessionStorage.removeItem(key);
}
