// What is drawn on the photo: lines, crosses and regions. Bright lines lie on dark ones, so
// that they are seen on light ground and on dark. u is the px of the photo that a pixel of the screen takes.
import {region95} from "./geometry.js";

const NS = "http://www.w3.org/2000/svg";

export function el(name, attrs, parent) {
  const e = document.createElementNS(NS, name);
  for (const k in attrs) e.setAttribute(k, attrs[k]);
  parent?.append(e);
  return e;
}

// cross draws the four arms of a cross that leaves its middle free; from and to are px from the middle.
function cross(e, [x, y], from, to, strokes) {
  for (const [cls, width] of strokes) {
    for (const [dx, dy] of [[-1, 0], [1, 0], [0, -1], [0, 1]]) {
      const ends = {x1: x + dx * from, y1: y + dy * from, x2: x + dx * to, y2: y + dy * to};
      el("line", {...ends, class: cls, "stroke-width": width}, e);
    }
  }
}

export function drawLine(parent, p, q, cls, u) {
  const ends = {x1: p[0], y1: p[1], x2: q[0], y2: q[1]};
  el("line", {...ends, class: "casing", "stroke-width": 4 * u}, parent);
  el("line", {...ends, class: cls, "stroke-width": 1.8 * u}, parent);
}

// drawRegion draws where a dent lies with 95 %.
export function drawRegion(parent, dent, imageFromPlane, u) {
  const outline = region95(dent, imageFromPlane);
  const d = `M${outline.map(p => p.join(" ")).join("L")}Z`;
  el("path", {d, class: "casing", "stroke-width": 3.5 * u}, parent);
  el("path", {d, class: "bright ellipse", "stroke-width": 1.6 * u}, parent);
}

// drawHandle draws a cross that can be moved, with its letter upright in a turned photo.
export function drawHandle(e, at, letter, quarter, u) {
  const [x, y] = at;
  e.replaceChildren();
  el("circle", {cx: x, cy: y, r: 26 * u, class: "hit"}, e);
  el("circle", {cx: x, cy: y, r: 12 * u, class: "casing", "stroke-width": 5 * u}, e);
  el("circle", {cx: x, cy: y, r: 12 * u, class: "bright ring", "stroke-width": 2.2 * u}, e);
  cross(e, at, 5 * u, 17 * u, [["casing", 5 * u], ["bright", 2.2 * u]]);
  const place = {x: x + 17 * u, y: y - 14 * u, "font-size": 15 * u, "stroke-width": 4 * u};
  const transform = `rotate(${-90 * quarter} ${x} ${y})`;
  el("text", {...place, class: "tag", transform}, e).textContent = letter;
}

// drawContours draws lines of equal depth.
export function drawContours(parent, lines, u) {
  for (const line of lines) {
    const d = `M${line.px.map(p => p.join(" ")).join("L")}`;
    el("path", {d, class: "casing", "stroke-width": (line.strong ? 4 : 2.6) * u}, parent);
    el("path", {d, class: "contour", "stroke-width": (line.strong ? 2.2 : 1.2) * u}, parent);
  }
}
