// The stage: a photo on which a person moves both centres, or sets a scale by hand. The number is the
// desk's own: the page asks for it while a centre is dragged, and reckons none itself.
import * as geo from "./geometry.js";
import {drawContours, drawHandle, drawLine, drawRegion, el} from "./marks.js";
import {drawLoupe, pixelsOf} from "./loupe.js";
import {StageView} from "./stageview.js";
import {get, post} from "./net.js";
import {showFault} from "./fault.js";

// The crosses of a scale by hand: the ends of a rule, or a card's corners.
const scales = {rule: ["a", "b"], card: ["1", "2", "3", "4"]};
const arrows = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};

export class Stage {
  // kept is called where the desk has kept what was set; show where another's value is to be shown.
  constructor(root, {kept, show}) {
    Object.assign(this, {root, kept, show});
    this.stage = this.find("stage");
    this.data = JSON.parse(this.find("stage-data").textContent);
    this.events = new AbortController();
    const {geometry: g, move, byHand} = this.data;
    this.inverse = g && geo.invert(g.image_from_plane);
    this.can = move || byHand;
    this.start = this.begin();
    this.at = structuredClone(this.start);
    this.past = [];
    // Where nothing was found, or no scale was set, a person puts every cross.
    this.placed = new Set(this.data.spacing ? ["left", "right"] : []);
    if (this.data.corners) for (const k of scales.card) this.placed.add(k);
    if (this.data.hand) for (const k of scales[this.data.hand.source]) this.placed.add(k);
    this.build();
    if (this.can) this.listen();
    this.populate();
    this.takeUp();
    this.view.look();
  }

  find(id) {
    return this.root.querySelector("#" + id);
  }

  on(e, name, f, options = {}) {
    e?.addEventListener(name, f, {...options, signal: this.events.signal});
  }

  // stop lets the page go, for another stage to take its place.
  stop() {
    this.events.abort();
  }

  begin() {
    const {width: W, height: H, left, right, hand, card} = this.data;
    const at = {left, right, a: [0.25 * W, 0.85 * H], b: [0.75 * W, 0.85 * H]};
    geo.cardCorners([0.5 * W, 0.8 * H], 0.3 * Math.min(W, H), card[0] / card[1]).forEach((p, i) => {
      at[i + 1] = p;
    });
    this.data.corners?.forEach((p, i) => {
      at[i + 1] = p;
    }); // of a card that was found
    hand?.points_px.forEach((p, i) => {
      at[scales[hand.source][i]] = p;
    });
    return at;
  }

  source() {
    return this.data.byHand ? this.find("source").value : "";
  }

  scale() {
    return scales[this.source()] ?? [];
  }

  build() {
    const {width, height} = this.data;
    this.stage.replaceChildren();
    // the photo and all that is drawn on it lie in a world that can be turned
    this.world = el("g", {}, this.stage);
    this.picture = {
      href: this.stage.dataset.image,
      width,
      height,
      x: -0.5,
      y: -0.5,
      preserveAspectRatio: "none",
    };
    el("image", this.picture, this.world);
    this.shapes = el("g", {}, this.world);
    this.points = el("g", {}, this.world);
    this.loupe = this.find("loupe");
    pixelsOf(this.picture.href, pixels => {
      this.pixels = pixels;
      if (this.magnified) this.magnify(this.magnified);
    });
    const g = this.data.geometry,
      on = (...listener) => this.on(...listener);
    this.view = new StageView(this.stage, this.data, g ? geo.frontUp(g.image_from_plane) : 0, on, () => {
      this.turned();
    });
    this.on(this.find("zoom"), "click", () => this.view.toggle(this.at.left, this.at.right));
    this.on(this.find("larger"), "click", () => this.view.larger());
    this.on(this.find("smaller"), "click", () => this.view.smaller());
    this.on(this.find("turn"), "click", () => this.view.turn());
    this.on(window, "resize", () => this.view.look());
    this.contours();
  }

  // contours fetches the surface's lines, where several photos gave one; a button draws them on the photo.
  contours() {
    const button = this.find("contours");
    if (!button) return;
    get(`/records/${this.data.record}/contours`)
      .then(r => (r.ok ? r.json() : null))
      .then(lines => {
        this.lines = lines;
        this.draw();
      })
      .catch(() => {}); // the photo is shown all the same
    this.on(button, "click", () => {
      button.setAttribute("aria-pressed", button.getAttribute("aria-pressed") !== "true");
      this.draw();
    });
  }

  // turned follows the view.
  turned() {
    const {width: W, height: H} = this.data;
    this.world.setAttribute("transform", `rotate(${90 * this.view.quarter} ${W / 2} ${H / 2})`);
    this.find("zoom").setAttribute("aria-pressed", this.view.near());
    this.find("smaller").disabled = !this.view.near();
    this.draw();
  }

  populate() {
    this.points.replaceChildren();
    this.handles = {};
    for (const k of this.can || this.data.spacing ? [...this.scale(), "left", "right"] : []) {
      const cls = "handle" + (k.length === 1 ? " scale" : "");
      const g = el(
        "g",
        {class: cls, "aria-label": this.stage.dataset[k], role: "img", "data-handle": k},
        this.points,
      );
      if (this.can) {
        g.setAttribute("tabindex", "0");
        this.grip(g, k);
      }
      this.handles[k] = g;
    }
    for (const e of this.root.querySelectorAll("[data-for]")) e.hidden = e.dataset.for !== this.source();
  }

  movedOf(keys) {
    return keys.some(k => this.at[k][0] !== this.start[k][0] || this.at[k][1] !== this.start[k][1]);
  }

  touched() {
    return this.can && (this.movedOf(Object.keys(this.handles)) || this.typed());
  }

  // typed says whether a field holds something else than the page came with.
  typed() {
    return this.fields().length > 0;
  }

  // fields are those that hold something else, with what they hold.
  fields() {
    return [...this.find("review").elements]
      .filter(e => e.name && e.value !== e.dataset.first)
      .map(e => [e.name, e.value]);
  }

  // ---- drawing
  unit() {
    const m = this.world.getScreenCTM();
    return m ? 1 / Math.hypot(m.a, m.b) : 1;
  }

  draw() {
    const u = this.unit(),
      {at} = this,
      {geometry: g, dents} = this.data;
    const line = (p, q, cls) => drawLine(this.shapes, p, q, cls, u);
    this.shapes.replaceChildren();
    if (this.lines && this.find("contours").getAttribute("aria-pressed") === "true")
      drawContours(this.shapes, this.lines, u);
    if (this.handles.left) line(at.left, at.right, "bright");
    const ends = this.scale();
    if (ends.length === 2) line(at.a, at.b, "level");
    if (ends.length === 4) ends.forEach((k, i) => line(at[k], at[ends[(i + 1) % 4]], "level"));
    if (g && dents && !this.movedOf(["left", "right"])) {
      for (const d of dents) drawRegion(this.shapes, d, g.image_from_plane, u);
    }
    const {letters} = this.stage.dataset;
    for (const k in this.handles) {
      const letter = k.length > 1 ? letters[k === "left" ? 0 : 1] : k.toUpperCase();
      drawHandle(this.handles[k], at[k], letter, this.view.quarter, u);
    }
  }

  // magnify shows the photo round the centre that is being moved; nothing with null.
  magnify(k) {
    const {loupe, pixels} = this;
    this.magnified = k;
    loupe.classList.toggle("on", Boolean(k));
    if (!k) return;
    const on = this.handles[k].getBoundingClientRect(),
      all = this.stage.getBoundingClientRect();
    loupe.classList.toggle("aside", on.x + on.width / 2 > all.x + all.width / 2); // not over what it enlarges
    drawLoupe(loupe, pixels, {
      at: this.at[k],
      r: this.loupeReach(k),
      quarter: this.view.quarter,
      perPx: pixels ? pixels.width / this.data.width : 1,
      lines: this.lines,
    });
  }

  // loupeReach is how many px of the photo the magnifier shows each way: 20 mm where the scale is known.
  loupeReach(k) {
    if (this.inverse) return 20 * geo.pxPerMM(this.inverse, this.at[k], [1, 0]);
    return Math.max(26 * this.unit(), 24);
  }

  // ---- moving
  remember() {
    this.past.push(structuredClone(this.at));
    this.find("undo").disabled = false;
  }

  undo() {
    if (!this.past.length) return;
    this.at = this.past.pop();
    this.find("undo").disabled = !this.past.length;
    this.changed();
  }

  changed() {
    this.draw();
    this.live();
    this.note();
    const keep = this.find("keep"),
      touched = this.movedOf(["left", "right"]);
    if (this.data.byHand) return;
    keep.hidden = keep.hasAttribute("data-later") && !touched;
    for (const e of this.root.querySelectorAll("#instead")) e.hidden = !keep.hidden;
    keep.textContent = touched ? keep.dataset.keep : keep.dataset.confirm;
  }

  // live asks the desk for the number, one question at a time, and once more where something moved
  // meanwhile.
  async live() {
    if (this.data.byHand) {
      // known once it is kept
      if (!this.movedOf(Object.keys(this.handles))) return;
      for (const id of ["spacing", "u"]) this.find(id).textContent = "–";
      return;
    }
    if (this.asking) {
      this.asking = "again";
      return;
    }
    do {
      this.asking = "once";
      await this.preview();
    } while (this.asking === "again");
    this.asking = "";
  }

  async preview() {
    try {
      const r = await post(`/records/${this.data.record}/preview`, this.words()),
        said = await r.json();
      this.fault(r.ok ? "" : said.error, said.field);
      if (!r.ok) return;
      this.find("spacing").textContent = said.spacing;
      this.find("u").textContent = said.u;
      this.find("plusminus").hidden = false;
    } catch {
      this.fault(this.find("keep").dataset.away);
    }
  }

  fault(text, field) {
    showFault(this.find("review"), this.find("review-fault"), text, field);
  }

  words() {
    const form = this.find("review"),
      {at} = this;
    return {
      Left: at.left,
      Right: at.right,
      Points: this.scale().map(k => at[k]),
      U: Number(form.u.value.replace(",", ".")) || 0,
      Reviewer: form.reviewer.value,
      Note: "",
      Seen: this.data.seen,
      Length: form.length?.value ?? "",
      Medium: form.medium?.value ?? "",
      Source: form.source?.value ?? "",
    };
  }

  inWorld(e) {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(this.world.getScreenCTM().inverse());
    return [p.x, p.y];
  }

  moveTo(k, p) {
    this.placed.add(k);
    this.at[k] = p;
    this.changed();
    this.magnify(k);
  }

  // grip lets a handle be dragged, by mouse, pen or finger, and nudged by the arrow keys.
  grip(h, k) {
    const {width, height} = this.data;
    let from = null;
    // a finger on a handle drags it, not the page
    this.on(h, "touchstart", e => e.preventDefault(), {passive: false});
    this.on(h, "pointerdown", e => {
      e.preventDefault();
      h.focus();
      h.setPointerCapture(e.pointerId);
      h.classList.add("held");
      const p = this.inWorld(e);
      from = [p[0] - this.at[k][0], p[1] - this.at[k][1]];
      this.remember();
      this.magnify(k);
    });
    this.on(h, "pointermove", e => {
      if (!from) return;
      const p = this.inWorld(e);
      this.moveTo(k, geo.within([p[0] - from[0], p[1] - from[1]], width, height));
    });
    const drop = e => {
      if (!from) return;
      from = null;
      if (e.pointerType === "touch") this.magnify(null); // it would hide the other centre
      h.classList.remove("held");
      if (JSON.stringify(this.past.at(-1)) === JSON.stringify(this.at)) {
        this.past.pop();
        this.find("undo").disabled = !this.past.length;
      }
    };
    this.on(h, "pointerup", drop);
    this.on(h, "pointercancel", drop);
    this.on(h, "focus", () => this.magnify(k));
    this.on(h, "blur", () => this.magnify(null));
    this.on(h, "keydown", e => this.nudge(e, k));
  }

  nudge(e, k) {
    if (!arrows[e.key]) return;
    e.preventDefault();
    this.remember();
    const d = geo.inPhoto(arrows[e.key], this.view.quarter),
      s = this.step(k, d) * (e.shiftKey ? 10 : 1);
    this.moveTo(k, [this.at[k][0] + d[0] * s, this.at[k][1] + d[1] * s]);
  }

  // step is the px of 0.1 mm toward a direction; half a screen pixel where no scale is known.
  step(k, d) {
    if (this.data.byHand) return 0.1 * this.handPxPerMM();
    return this.inverse ? 0.1 * geo.pxPerMM(this.inverse, this.at[k], d) : 0.5 * this.unit();
  }

  // handPxPerMM is the scale as it is set now.
  handPxPerMM() {
    const d = (a, b) => geo.distance(this.at[a], this.at[b]);
    if (this.source() === "card")
      return Math.max(d(1, 2) + d(3, 4), d(2, 3) + d(4, 1)) / 2 / this.data.card[0];
    const mm = Number(this.find("length").value.replace(",", "."));
    return mm > 0 ? d("a", "b") / mm : 5 * this.unit();
  }

  // ---- keeping
  listen() {
    const form = this.find("review");
    this.on(window, "keydown", e => {
      if (
        !(e.ctrlKey || e.metaKey) ||
        e.key !== "z" ||
        /INPUT|TEXTAREA/.test(document.activeElement.tagName)
      )
        return;
      e.preventDefault();
      this.undo();
    });
    this.on(this.find("undo"), "click", () => this.undo());
    this.on(form.source, "change", () => {
      this.past = [];
      this.find("undo").disabled = true;
      this.populate();
      this.changed();
    });
    form.reviewer.value = localStorage.getItem("sitspan.reviewer") || "";
    for (const e of form.elements) e.dataset.first = e.value;
    this.on(form.u, "input", () => {
      if (this.touched()) this.live();
    });
    this.on(form, "input", () => this.note());
    this.on(form, "submit", e => {
      e.preventDefault();
      this.send();
    });
    this.on(this.find("mine"), "click", () => {
      this.data.seen = this.others;
      this.find("keep").hidden = false;
      this.send();
    });
    this.on(this.find("theirs"), "click", () => {
      this.forget();
      this.show();
    });
  }

  async send() {
    // it is confirmed: nothing to do
    if (this.sending || (!this.data.byHand && this.find("keep").hidden)) return;
    if (Object.keys(this.handles).some(k => !this.placed.has(k))) {
      this.fault(this.find("keep").dataset.place);
      return;
    }
    const {record, shot, byHand} = this.data;
    localStorage.setItem("sitspan.reviewer", this.find("review").reviewer.value);
    this.sending = true;
    try {
      const r = await post(byHand ? `/shots/${shot}/by-hand` : `/records/${record}/review`, this.words());
      if (r.ok) {
        const moved = byHand || this.movedOf(["left", "right"]);
        this.forget();
        this.kept({moved});
        return;
      }
      const said = await r.json();
      this.fault(said.error, said.field);
      this.others = said.seen;
      this.find("conflict").hidden = !said.conflict;
      this.find("keep").hidden = Boolean(said.conflict);
    } catch {
      this.fault(this.find("keep").dataset.away);
    } finally {
      this.sending = false;
    }
  }

  // ---- what is moved, or typed, and not kept outlives a step to another page
  key() {
    return `stage ${this.data.record} ${this.data.seen} ${this.data.byHand ? "hand" : ""}`;
  }

  note() {
    const moved = this.movedOf(Object.keys(this.handles)),
      fields = this.fields();
    if (!moved && !fields.length) {
      this.forget();
      return;
    }
    const at = moved ? this.at : null;
    sessionStorage.setItem(this.key(), JSON.stringify({at, placed: [...this.placed], fields}));
  }

  forget() {
    sessionStorage.removeItem(this.key());
  }

  takeUp() {
    const kept = this.can && sessionStorage.getItem(this.key());
    if (!kept) return;
    const {at, placed, fields = []} = JSON.parse(kept);
    const form = this.find("review").elements; // one of them is named length
    for (const [name, value] of fields) form.namedItem(name).value = value;
    if (this.data.byHand) this.populate(); // the scale may be another one
    if (!at) return;
    this.past.push(structuredClone(this.at));
    this.find("undo").disabled = false;
    Object.assign(this, {at, placed: new Set(placed)});
    this.changed();
  }
}
