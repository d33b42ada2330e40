// Brings today and the first row that is not done into sight when the programme opens; without it the drawing begins at the house's first day.

const LEAD = 140; // pixels of the past that stay visible
const ROW = 46;

for (const region of document.querySelectorAll("[data-programme][data-today]")) {
  const names = region.querySelector(".programme__names");
  const today = Number(region.dataset.today);
  const room = region.clientWidth - names.offsetWidth;
  if (today > room * 0.7) {
    region.scrollLeft = today - LEAD;
  }
  const next = region.querySelector("[data-next]");
  if (next) {
    region.scrollTop = next.offsetTop - ROW; // counted from the column of names, which begins below the head
  }
}
