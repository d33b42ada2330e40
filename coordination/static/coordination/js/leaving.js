// A tablet goes from hand to hand: copies of pages that were taken along are only for whoever is signed in.
// They are cleared at signing out, also without reception, and when somebody else's page is opened.

const form = document.querySelector("form[data-leave]");

async function clearCopies(keepsPerson = "") {
  if (!("caches" in window)) return;
  for (const name of await caches.keys()) {
    if (name.startsWith("walks:") && name.split(":")[2] !== keepsPerson) await caches.delete(name);
  }
}

if (form) {
  clearCopies(form.dataset.leave);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    await clearCopies();
    if (navigator.onLine) {
      form.submit();
      return;
    }
    const said = document.createElement("p");
    said.setAttribute("role", "status");
    said.textContent = form.dataset.leaveLater;
    form.querySelector("[role=status]")?.remove();
    form.append(said);
  });
}
