// Draw a signature: strokes of whole numbers in a box of 600 by 200, kept in a hidden field as JSON.
// Without this script the form asks for the name typed twice instead.

const WIDTH = 600;
const HEIGHT = 200;
const MOST_POINTS = 6000;
const KEPT_FOR = 30 * 60 * 1000; // milliseconds

function readStrokes(text) {
  try {
    const strokes = JSON.parse(text || "[]");
    return Array.isArray(strokes) ? strokes : [];
  } catch {
    return [];
  }
}

// Strokes outlast 'back' and a page that did not come, in this tab, for the same person and page, half an hour.
function keepStrokes(key, strokes) {
  sessionStorage.setItem(key, JSON.stringify({ strokes, at: Date.now() }));
}

function findStrokes(key) {
  const kept = JSON.parse(sessionStorage.getItem(key) || "null");
  return kept && Date.now() - kept.at < KEPT_FOR ? kept.strokes : [];
}

function startPad(form) {
  const field = form.querySelector("[data-signature-strokes]");
  const pad = form.querySelector("[data-signature-pad]");
  const canvas = form.querySelector("[data-signature-canvas]");
  const status = form.querySelector("[data-signature-status]");
  const pen = canvas.getContext("2d");
  const key = `signature:${form.dataset.signature}:${location.pathname}`;
  let strokes = field.value ? readStrokes(field.value) : findStrokes(key);
  let drawing = null;

  const countPoints = () => strokes.reduce((sum, stroke) => sum + stroke.length, 0);

  function paint() {
    const ratio = window.devicePixelRatio || 1;
    canvas.width = WIDTH * ratio;
    canvas.height = HEIGHT * ratio;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, WIDTH, HEIGHT);
    pen.strokeStyle = getComputedStyle(canvas).color;
    pen.lineWidth = 3;
    pen.lineCap = pen.lineJoin = "round";
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      pen.stroke();
    }
  }

  function keep() {
    const drawn = strokes.some((stroke) => stroke.length > 1);
    field.value = drawn ? JSON.stringify(strokes) : "";
    keepStrokes(key, drawn ? strokes : []);
    status.textContent = drawn ? status.dataset.drawn : status.dataset.empty;
  }

  function pointOf(event) {
    const box = canvas.getBoundingClientRect();
    const clamp = (value, most) => Math.max(0, Math.min(most, Math.round(value)));
    return [
      clamp(((event.clientX - box.left) / box.width) * WIDTH, WIDTH),
      clamp(((event.clientY - box.top) / box.height) * HEIGHT, HEIGHT),
    ];
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (drawing !== null || event.button !== 0) return;
    event.preventDefault();
    drawing = event.pointerId;
    canvas.setPointerCapture(drawing);
    strokes.push([pointOf(event)]);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerId !== drawing || countPoints() >= MOST_POINTS) return;
    const stroke = strokes[strokes.length - 1];
    const [x, y] = pointOf(event);
    const [lastX, lastY] = stroke[stroke.length - 1];
    if (x === lastX && y === lastY) return;
    stroke.push([x, y]);
    paint();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, (event) => {
      if (event.pointerId !== drawing) return;
      drawing = null;
      keep();
    });
  }
  form.querySelector("[data-signature-clear]").addEventListener("click", () => {
    strokes = [];
    paint();
    keep();
  });
  window.addEventListener("themechange", paint);

  pad.hidden = false;
  paint();
  keep();
}

for (const form of document.querySelectorAll("form[data-signature]")) startPad(form);
