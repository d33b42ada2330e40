// Folds what is long and not needed now: on a phone or an upright tablet the stages of a table but the current one, on a phone groups of a form. Without it everything stands open.

const phone = matchMedia("(max-width: 50rem)").matches;
const upright = matchMedia("(max-width: 60rem)").matches;

function makeFold(part, head, folded) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "fold";
  button.append(...head.childNodes);
  head.append(button);
  const show = (closed) => {
    part.classList.toggle("folded", closed);
    button.setAttribute("aria-expanded", String(!closed));
  };
  button.addEventListener("click", () => show(!part.classList.contains("folded")));
  part.addEventListener("unfold", () => show(false));
  show(folded);
}

for (const table of document.querySelectorAll("table[data-folds]")) {
  for (const stage of table.tBodies) {
    const head = stage.querySelector(".group > th");
    if (head && stage.rows.length > 1) {
      makeFold(stage, head, upright && !("current" in stage.dataset));
    }
  }
}

for (const group of document.querySelectorAll("fieldset[data-folds]")) {
  makeFold(group, group.querySelector("legend"), phone && !group.querySelector(".field-error"));
}

function reveal() {
  const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const part = target && target.closest(".folded");
  if (part) {
    part.dispatchEvent(new Event("unfold"));
    target.scrollIntoView();
  }
}

addEventListener("hashchange", reveal);
reveal();
