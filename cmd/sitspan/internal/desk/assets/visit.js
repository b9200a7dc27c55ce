// The trunk's angle off a side photo. The photo is shown from the browser's own
// memory and never sent; the four points are.
import {post} from "./net.js";
import {drawLine, el} from "./marks.js";

const $ = id => document.getElementById(id);
const tool = $("trunk-tool"),
  stage = $("trunk-stage"),
  ask = $("trunk-ask"),
  figure = $("trunk-figure"),
  take = $("trunk-take");
const steps = ask.dataset.steps.split("|").map(s => s.trim()),
  names = ask.dataset.names.split("|");
let row = 0,
  points = [],
  size = [1, 1],
  answer = null,
  url = "";

for (const b of document.querySelectorAll("[data-read]")) {
  b.addEventListener("click", () => {
    row = b.dataset.read;
    reset();
    tool.showModal();
  });
}
$("trunk-close").addEventListener("click", () => tool.close());
$("trunk-again").addEventListener("click", () => {
  points = [];
  draw();
});
tool.addEventListener("close", () => {
  if (url) URL.revokeObjectURL(url);
  url = "";
});

function reset() {
  points = [];
  answer = null;
  take.disabled = true;
  figure.textContent = "";
  ask.textContent = "\u00a0";
  $("trunk-file").value = "";
  $("trunk-place").hidden = true;
  stage.classList.remove("on");
  stage.replaceChildren();
}

$("trunk-file").addEventListener("change", e => {
  const file = e.target.files[0];
  if (!file) return;
  if (url) URL.revokeObjectURL(url);
  url = URL.createObjectURL(file);
  const img = new Image();
  img.onload = () => {
    size = [img.naturalWidth, img.naturalHeight];
    stage.setAttribute("viewBox", `0 0 ${size[0]} ${size[1]}`);
    stage.replaceChildren(el("image", {href: url, width: size[0], height: size[1]}));
    stage.classList.add("on");
    points = [];
    draw();
  };
  img.onerror = () => {
    ask.textContent = ask.dataset.unreadable;
  };
  img.src = url;
});

// By keyboard all four points are put where a rider's usually are; the arrow keys do the rest.
$("trunk-place").addEventListener("click", () => {
  points = [
    [0.25, 0.8],
    [0.75, 0.8],
    [0.42, 0.45],
    [0.62, 0.22],
  ].map(([x, y]) => [x * size[0], y * size[1]]);
  draw();
  stage.querySelector(".handle").focus();
  reckon();
});

function at(e) {
  const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(stage.getScreenCTM().inverse());
  return [p.x, p.y];
}
let held = -1;
stage.addEventListener("pointerdown", e => {
  const handle = e.target.closest(".handle");
  if (handle) {
    held = +handle.dataset.n;
  } else if (points.length < 4) {
    points.push(at(e));
    held = points.length - 1;
  } else return;
  stage.setPointerCapture(e.pointerId);
  e.preventDefault();
  draw();
});
stage.addEventListener("pointermove", e => {
  if (held >= 0) {
    points[held] = at(e);
    draw();
  }
});
stage.addEventListener("pointerup", () => {
  held = -1;
  reckon();
});

function draw() {
  for (const old of stage.querySelectorAll(".drawn")) old.remove();
  const unit = 1 / (stage.getScreenCTM()?.a || 1);
  const lines = el("g", {class: "drawn"}, stage);
  if (points.length > 1) drawLine(lines, points[0], points[1], "level", 1.3 * unit);
  if (points.length > 3) drawLine(lines, points[2], points[3], "body", 1.3 * unit);
  points.forEach((p, i) => drawPoint(p, i, unit));
  ask.textContent = url ? steps[Math.min(points.length, 4)] : "\u00a0";
  $("trunk-place").hidden = !url || points.length > 0;
  take.disabled = points.length < 4 || !answer;
}

const nudges = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};

// drawPoint draws a place that can be dragged, and nudged by the arrow keys.
function drawPoint([x, y], i, unit) {
  const g = el("g", {class: "drawn handle", tabindex: 0, role: "img", "aria-label": names[i]}, stage);
  g.dataset.n = i;
  for (const [cls, r, width] of [["hit", 22, 0], ["casing", 9, 5], [i < 2 ? "level" : "body", 9, 2.5]]) {
    const o = el("circle", {cx: x, cy: y, r: r * unit, class: cls, "stroke-width": width * unit}, g);
    if (cls !== "hit") o.setAttribute("fill", "none");
  }
  g.addEventListener("keydown", e => {
    const d = nudges[e.key];
    if (!d) return;
    e.preventDefault();
    const s = (e.shiftKey ? 10 : 1) * unit;
    points[i] = [x + d[0] * s, y + d[1] * s];
    draw();
    stage.querySelectorAll(".handle")[i].focus();
    reckon();
  });
}

let asked = 0; // an answer to what was asked before is not taken
async function reckon() {
  if (points.length < 4) return;
  const mine = ++asked;
  answer = null;
  take.disabled = true;
  const [Rear, Front, Hip, Shoulder] = points;
  const r = await post("/trunk", {Rear, Front, Hip, Shoulder}).catch(() => null);
  const said = (await r?.json().catch(() => null)) ?? {error: ask.dataset.away};
  if (mine !== asked) return;
  answer = r?.ok ? said : null;
  figure.textContent = answer ? said.text : "";
  if (!answer) ask.textContent = said.error;
  take.disabled = !answer;
}

take.addEventListener("click", () => {
  $("trunk" + row).value = answer.deg;
  $("trunku" + row).value = answer.u;
  $("allow" + row).value = "";
  document.getElementsByName("bike_basis")[row].value = "side photo";
  $("allow" + row).dispatchEvent(new Event("input", {bubbles: true})); // so that it outlives a step
  tool.close();
  $("trunk" + row).focus();
});
for (const input of document.getElementsByName("bike_trunk")) {
  input.addEventListener("input", () => {
    input.closest(".bike").querySelector("[name=bike_basis]").value = "typed";
  });
}
