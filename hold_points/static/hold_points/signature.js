// Draw a signature: strokes of whole numbers in a box of 600 by 200, kept in a hidden field as JSON.
// Without this script the form asks for the name typed twice instead.

const WIDTH = 600;
const HEIGHT = 200;
const MOST_POINTS = 6000;

function readStrokes(text) {
  try {
    const strokes = JSON.parse(text || "[]");
    return Array.isArray(strokes) ? strokes : [];
  } catch {
    return [];
  }
}

function startPad(form) {
  const field = form.querySelector("[data-signature-strokes]");
  const pad = form.querySelector("[data-signature-pad]");
  const canvas = form.querySelector("[data-signature-canvas]");
  const status = form.querySelector("[data-signature-status]");
  const pen = canvas.getContext("2d");
  let strokes = readStrokes(field.value);
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
