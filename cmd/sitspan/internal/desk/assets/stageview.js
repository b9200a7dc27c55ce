// How the stage shows its picture: wheel, pinch, drag and keys choose the part, the buttons too.
import * as view from "./view.js";
import {onScreen} from "./geometry.js";

const step = 1.5; // of a button or a key

export class StageView {
  // on adds a listener that goes with the stage; changed is called where lines are to be drawn anew.
  constructor(svg, {width, height}, quarter, on, changed) {
    Object.assign(this, {svg, width, height, quarter, on, changed});
    this.view = view.whole;
    this.fingers = new Map();
    this.gestures();
  }

  // size is the picture's as it is turned, frame the part of the plane that the stage has room for.
  size() {
    return view.turned(this.width, this.height, this.quarter);
  }

  frame() {
    const r = this.svg.getBoundingClientRect();
    return view.frameOf(this.size(), r.width > 0 && r.height > 0 ? r.width / r.height : 4 / 3);
  }

  middle() {
    return [this.width / 2, this.height / 2];
  }

  set(v) {
    this.view = v;
    this.look();
  }

  look() {
    const box = view.boxOf(view.held(this.view, this.size(), this.frame()), this.frame(), this.middle());
    this.svg.setAttribute("viewBox", box.join(" "));
    this.svg.classList.toggle("near", this.near());
    this.changed();
  }

  near() {
    return this.view.times > 1.001;
  }

  turn() {
    this.quarter = (this.quarter + 1) % 4;
    this.set(view.whole);
  }

  // toggle shows two places of the photo near by, or all of it.
  toggle(a, b) {
    const at = p => onScreen([p[0] - this.width / 2, p[1] - this.height / 2], this.quarter);
    this.set(this.near() ? view.whole : view.round(at(a), at(b), this.size(), this.frame()));
  }

  zoom(by, place = [this.view.x, this.view.y]) {
    this.set(view.zoomed(this.view, by, place, this.size(), this.frame()));
  }

  // placeOf is where a place of the screen lies, from the turned picture's middle, px of it.
  placeOf(x, y) {
    const p = new DOMPoint(x, y).matrixTransform(this.svg.getScreenCTM().inverse());
    return [p.x - this.width / 2, p.y - this.height / 2];
  }

  gestures() {
    const {svg} = this;
    this.on(
      svg,
      "wheel",
      e => {
        if (e.deltaY > 0 && !this.near()) return; // nothing is left to show: the page scrolls
        e.preventDefault();
        this.zoom(Math.exp(-e.deltaY / 400), this.placeOf(e.clientX, e.clientY));
      },
      {passive: false},
    );
    // two fingers are ours, and one where there is something to shift; else the page scrolls
    this.on(svg, "touchstart", e => (e.touches.length > 1 || this.near()) && e.preventDefault(), {
      passive: false,
    });
    this.on(svg, "pointerdown", e => this.down(e));
    this.on(svg, "pointermove", e => this.move(e));
    for (const name of ["pointerup", "pointercancel"])
      this.on(svg, name, e => this.fingers.delete(e.pointerId));
    this.on(svg, "keydown", e => this.key(e));
  }

  down(e) {
    if (e.target.closest(".handle") || e.button > 0) return;
    this.fingers.set(e.pointerId, [e.clientX, e.clientY]);
    if (e.pointerType !== "touch" || this.near()) this.svg.setPointerCapture(e.pointerId);
  }

  move(e) {
    const was = this.fingers.get(e.pointerId);
    if (!was) return;
    const all = [...this.fingers.values()],
      now = [e.clientX, e.clientY],
      other = all.find(p => p !== was);
    this.fingers.set(e.pointerId, now);
    if (all.length === 2) this.pinch(was, now, other);
    else if (all.length === 1 && this.near()) this.shift(was, now);
  }

  // pinch keeps what is between two fingers between them.
  pinch(was, now, other) {
    const d = p => Math.hypot(p[0] - other[0], p[1] - other[1]);
    const mid = p => this.placeOf((p[0] + other[0]) / 2, (p[1] + other[1]) / 2);
    const by = d(now) / Math.max(1, d(was)),
      [a, b] = [mid(was), mid(now)];
    this.view = view.moved(this.view, [b[0] - a[0], b[1] - a[1]], this.size(), this.frame());
    this.zoom(by, a);
  }

  shift(was, now) {
    const a = this.placeOf(...was),
      b = this.placeOf(...now);
    this.set(view.moved(this.view, [b[0] - a[0], b[1] - a[1]], this.size(), this.frame()));
  }

  key(e) {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    if (e.key === "+" || e.key === "=") this.zoom(step);
    else if (e.key === "-") this.zoom(1 / step);
    else if (e.key === "0") this.set(view.whole);
    else return;
    e.preventDefault();
  }

  larger() {
    this.zoom(step);
  }

  smaller() {
    this.zoom(1 / step);
  }
}
