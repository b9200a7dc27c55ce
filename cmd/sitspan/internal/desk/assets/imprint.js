// The imprint's page: photos in, the strip that follows them, and the stage on
// which a person moves the centres.
"use strict";
(() => {
  const NS = "http://www.w3.org/2000/svg";
  const $ = id => document.getElementById(id);
  const root = $("imprint"), token = document.querySelector("meta[name=token]").content;
  const visit = root.dataset.visit;
  const post = (url, body) => fetch(url, {method: "POST", headers: {"Content-Type": "application/json", "Accept": "application/json", "X-Sitspan-Token": token}, body: JSON.stringify(body)});
  let touched = false; // the person has moved something that is not kept yet

  // ---- photos in
  const said = $("upload-said");
  async function send(files) {
    let trouble = [];
    for (const f of files) {
      said.textContent = said.dataset.sending + ": " + f.name;
      const form = new FormData();
      form.append("photo", f, f.name);
      try {
        const r = await fetch(`/visits/${visit}/photos`, {method: "POST", body: form, headers: {"X-Sitspan-Token": token, "Accept": "application/json"}});
        const answer = await r.json();
        for (const one of answer.photos || [answer]) if (one.error) trouble.push((one.name ? one.name + ": " : "") + one.error);
      } catch { trouble.push(f.name + ": " + said.dataset.broken); }
    }
    said.textContent = trouble.join(" ");
    refresh();
  }
  $("files").addEventListener("change", e => { send([...e.target.files]); e.target.value = ""; });
  addEventListener("dragover", e => { e.preventDefault(); root.classList.add("over"); });
  addEventListener("dragleave", e => { if (!e.relatedTarget) root.classList.remove("over"); });
  addEventListener("drop", e => { e.preventDefault(); root.classList.remove("over"); if (e.dataTransfer.files.length) send([...e.dataTransfer.files]); });

  // ---- the strip
  let shown = $("strip").innerHTML.trim();
  async function refresh() {
    try {
      const r = await fetch(`/visits/${visit}/strip`);
      if (!r.ok) return;
      const html = (await r.text()).trim();
      if (html === shown) return;
      const inside = $("strip").contains(document.activeElement);
      if (!inside || html.includes("data-waiting") !== shown.includes("data-waiting")) { $("strip").innerHTML = html; shown = html; }
      const current = $("strip").querySelector(".tiles").dataset.current;
      const asked = new URLSearchParams(location.search).has("record");
      if (current !== root.dataset.current && !touched && !asked) location.reload();
    } catch { /* the desk is away for a moment */ }
  }
  shown = ""; // the first answer is compared with nothing: templates may space differently
  setInterval(refresh, 900);

  // ---- the stage
  const stage = $("stage");
  if (!stage) return;
  const data = JSON.parse($("stage-data").textContent);
  const W = data.width, H = data.height;
  // A scale by hand has two points (a rule) or four (a card's corners) beside the centres.
  const SCALE = {rule: ["a", "b"], card: ["1", "2", "3", "4"]};
  const source = () => data.byHand ? $("source").value : "";
  const scale = () => SCALE[source()] || [];
  const start = {left: data.left, right: data.right, a: [0.25 * W, 0.85 * H], b: [0.75 * W, 0.85 * H]};
  const cw = 0.3 * Math.min(W, H), ch = cw / 1.586; // a card's sides, ISO/IEC 7810
  [[0, 0], [1, 0], [1, 1], [0, 1]].forEach(([x, y], i) => { start[i + 1] = [0.5 * W + (x - 0.5) * cw, 0.8 * H + (y - 0.5) * ch]; });
  if (data.hand) data.hand.points_px.forEach((p, i) => { start[SCALE[data.hand.source][i]] = p; });
  // Where nothing was found, or no scale was set, a person puts every cross.
  const placed = new Set(data.spacing ? ["left", "right"] : []);
  if (data.hand) for (const k of SCALE[data.hand.source]) placed.add(k);
  let handles = {}, at = structuredClone(start), past = [];

  const el = (name, attrs, parent) => {
    const e = document.createElementNS(NS, name);
    for (const k in attrs) e.setAttribute(k, attrs[k]);
    parent?.append(e);
    return e;
  };
  // The photo and all that is drawn on it lie in a world that can be turned.
  const world = el("g", {}, stage);
  el("image", {href: stage.dataset.image, width: W, height: H, x: -0.5, y: -0.5, preserveAspectRatio: "none"}, world);
  const shapes = el("g", {}, world);
  const can = data.move || data.byHand;
  const points = el("g", {}, world);
  function populate() {
    points.replaceChildren();
    handles = {};
    if (can || data.spacing) for (const k of [...scale(), "left", "right"]) {
      const g = el("g", {class: "handle" + (k.length === 1 ? " scale" : ""), "aria-label": stage.dataset[k], role: "img", "data-handle": k}, points);
      if (can) { g.setAttribute("tabindex", "0"); grip(g, k); }
      handles[k] = g;
    }
    for (const e of document.querySelectorAll("[data-for]")) e.hidden = e.dataset.for !== source();
  }

  // geometry: mm of the frame's plane from px, by the inverse of the homography
  const g = data.geometry, inverse = g && invert(g.image_from_plane);
  function invert(m) {
    const [a, b, c, d, e, f, h, i, j] = m;
    const A = e * j - f * i, B = c * i - b * j, C = b * f - c * e, D = f * h - d * j, E = a * j - c * h, F = c * d - a * f, G = d * i - e * h, K = b * h - a * i, L = a * e - b * d;
    return [A, B, C, D, E, F, G, K, L];
  }
  const map = (m, p) => { const w = m[6] * p[0] + m[7] * p[1] + m[8]; return [(m[0] * p[0] + m[1] * p[1] + m[2]) / w, (m[3] * p[0] + m[4] * p[1] + m[5]) / w]; };
  function place(k) { // equation (1), as the desk reckons it
    const dent = data.dents?.[k === "left" ? 0 : 1];
    let p = map(inverse, at[k]);
    if (dent) { const from = map(inverse, dent.px); p = [p[0] + dent.plane_mm[0] - from[0], p[1] + dent.plane_mm[1] - from[1]]; }
    const depth = dent ? dent.depth_mm : g.depth_mm;
    if (g.camera_mm) {
      const [cx, cy, h] = g.camera_mm, gain = depth ? (h + depth + g.card_mm) / h : 1;
      p = [cx + (p[0] - cx) * gain, cy + (p[1] - cy) * gain];
    }
    return [p[0] * g.print_scale[0], p[1] * g.print_scale[1]];
  }
  const write = (v, n) => (v.toFixed(n)).replace(".", data.decimal);

  // quarter turns clockwise that bring the frame's front up
  let quarter = 0;
  if (g) {
    const o = map(g.image_from_plane, [0, 0]), f = map(g.image_from_plane, [0, -10]), x = f[0] - o[0], y = f[1] - o[1];
    quarter = Math.abs(y) >= Math.abs(x) ? (y < 0 ? 0 : 2) : (x < 0 ? 1 : 3);
  }

  function moved() { return Object.keys(handles).some(k => at[k][0] !== start[k][0] || at[k][1] !== start[k][1]); }

  // ---- drawing
  function unit() { const m = world.getScreenCTM(); return m ? 1 / Math.hypot(m.a, m.b) : 1; }
  function draw() {
    const u = unit();
    shapes.replaceChildren();
    const line = (p, q, cls) => { for (const [c, w] of [["casing", 4], [cls, 1.8]]) el("line", {x1: p[0], y1: p[1], x2: q[0], y2: q[1], class: c, "stroke-width": w * u}, shapes); };
    if (handles.left) line(at.left, at.right, "bright");
    const ends = scale();
    if (ends.length === 2) line(at.a, at.b, "level");
    if (ends.length === 4) ends.forEach((k, i) => line(at[k], at[ends[(i + 1) % 4]], "level"));
    if (g && data.dents && !touchedCentres()) data.dents.forEach(d => ellipse(d, u));
    for (const k in handles) handle(handles[k], at[k], k, u);
  }
  function touchedCentres() { return ["left", "right"].some(k => at[k][0] !== start[k][0] || at[k][1] !== start[k][1]); }
  function ellipse(d, u) {
    const [xx, xy, yy] = d.cov_mm2, mean = (xx + yy) / 2, half = Math.hypot((xx - yy) / 2, xy), turn = Math.atan2(2 * xy, xx - yy) / 2;
    const k = 5.991, p = Math.sqrt(k * (mean + half)), q = Math.sqrt(k * Math.max(0, mean - half)), path = [];
    for (let i = 0; i < 40; i++) {
      const t = i / 20 * Math.PI, x = p * Math.cos(t), y = q * Math.sin(t);
      const s = map(g.image_from_plane, [d.plane_mm[0] + x * Math.cos(turn) - y * Math.sin(turn), d.plane_mm[1] + x * Math.sin(turn) + y * Math.cos(turn)]);
      path.push(s[0] + " " + s[1]);
    }
    const f = "M" + path.join("L") + "Z";
    el("path", {d: f, class: "casing", "stroke-width": 3.5 * u}, shapes);
    el("path", {d: f, class: "bright ellipse", "stroke-width": 1.6 * u}, shapes);
  }
  function handle(e, p, k, u) {
    e.replaceChildren();
    el("circle", {cx: p[0], cy: p[1], r: 26 * u, class: "hit"}, e);
    const arms = [[-17, 0, -5, 0], [5, 0, 17, 0], [0, -17, 0, -5], [0, 5, 0, 17]];
    for (const [c, w] of [["casing", 5], ["bright", 2.2]]) {
      el("circle", {cx: p[0], cy: p[1], r: 12 * u, class: c + (c === "bright" ? " ring" : ""), "stroke-width": w * u}, e);
      for (const m of arms) el("line", {x1: p[0] + m[0] * u, y1: p[1] + m[1] * u, x2: p[0] + m[2] * u, y2: p[1] + m[3] * u, class: c, "stroke-width": w * u}, e);
    }
    el("text", {x: p[0] + 17 * u, y: p[1] - 14 * u, "font-size": 15 * u, "stroke-width": 4 * u, class: "tag", transform: `rotate(${-90 * quarter} ${p[0]} ${p[1]})`}, e).textContent = k[0].toUpperCase();
  }

  // ---- the magnifier: the photo round the centre that is being moved
  const loupe = $("loupe");
  function magnify(k) {
    if (!k) { loupe.classList.remove("on"); return; }
    const on = handles[k].getBoundingClientRect(), all = stage.getBoundingClientRect();
    loupe.classList.toggle("aside", on.x + on.width / 2 > all.x + all.width / 2); // not over what it enlarges
    const u = unit(), r = Math.max(26 * u, 24), p = at[k];
    loupe.setAttribute("viewBox", `${p[0] - r} ${p[1] - r} ${2 * r} ${2 * r}`);
    loupe.replaceChildren();
    const turned = el("g", {transform: `rotate(${90 * quarter} ${p[0]} ${p[1]})`}, loupe);
    el("image", {href: stage.dataset.image, width: W, height: H, x: -0.5, y: -0.5, preserveAspectRatio: "none"}, turned);
    for (const [c, w] of [["casing", 0.05], ["bright", 0.02]]) for (const m of [[-0.3, 0, -0.06, 0], [0.06, 0, 0.3, 0], [0, -0.3, 0, -0.06], [0, 0.06, 0, 0.3]]) {
      el("line", {x1: p[0] + m[0] * r, y1: p[1] + m[1] * r, x2: p[0] + m[2] * r, y2: p[1] + m[3] * r, class: c, "stroke-width": w * r}, loupe);
    }
    loupe.classList.add("on");
  }

  // ---- moving
  function remember() { past.push(structuredClone(at)); $("undo").disabled = false; }
  function undo() { if (!past.length) return; at = past.pop(); $("undo").disabled = !past.length; changed(); }
  function changed() {
    touched = moved();
    draw(); live();
    const keep = $("keep");
    if (keep && !data.byHand) keep.textContent = touched ? keep.dataset.keep : keep.dataset.confirm;
  }
  let asking = 0;
  function live() {
    if (data.byHand) { if (touched) { $("spacing").textContent = $("u").textContent = "–"; } return; } // known once it is kept
    if (!g || !data.move) return;
    const l = place("left"), r = place("right");
    $("spacing").textContent = write(Math.hypot(l[0] - r[0], l[1] - r[1]), 1);
    clearTimeout(asking);
    asking = setTimeout(preview, 160);
  }
  async function preview() {
    let r, answer;
    try {
      r = await post(`/records/${data.record}/preview`, words());
      answer = await r.json();
    } catch { fault($("keep").dataset.away); return; }
    fault(r.ok ? "" : answer.error);
    if (r.ok) { $("spacing").textContent = answer.spacing; $("u").textContent = answer.u; $("plusminus").hidden = false; }
  }
  function fault(text) { const f = $("review-fault"); f.textContent = text; f.hidden = !text; }
  function words() {
    const form = $("review");
    return {Left: at.left, Right: at.right, Points: scale().map(k => at[k]), U: Number(form.u.value.replace(",", ".")) || 0, Reviewer: form.reviewer.value, Note: "",
      Length: form.length?.value ?? "", Medium: form.medium?.value ?? "", Source: form.source?.value ?? ""};
  }

  // grip lets a handle be dragged, by mouse, pen or finger, and nudged by the arrow keys.
  function grip(h, k) {
    let from = null;
    h.addEventListener("touchstart", e => e.preventDefault(), {passive: false}); // a finger on a handle drags it, and not the page
    h.addEventListener("pointerdown", e => {
      e.preventDefault(); h.focus(); h.setPointerCapture(e.pointerId); h.classList.add("held");
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(world.getScreenCTM().inverse());
      from = [p.x - at[k][0], p.y - at[k][1]]; remember(); magnify(k);
    });
    h.addEventListener("pointermove", e => {
      if (!from) return;
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(world.getScreenCTM().inverse());
      placed.add(k);
      at[k] = [Math.min(W - 1, Math.max(0, p.x - from[0])), Math.min(H - 1, Math.max(0, p.y - from[1]))];
      changed(); magnify(k);
    });
    const drop = e => { if (!from) return; from = null; if (e.pointerType === "touch") magnify(null); /* it would hide the other centre */ h.classList.remove("held"); if (JSON.stringify(past.at(-1)) === JSON.stringify(at)) { past.pop(); $("undo").disabled = !past.length; } };
    h.addEventListener("pointerup", drop);
    h.addEventListener("pointercancel", drop);
    h.addEventListener("focus", () => magnify(k));
    h.addEventListener("blur", () => magnify(null));
    h.addEventListener("keydown", e => {
      let d = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[e.key];
      if (!d) return;
      e.preventDefault(); remember();
      for (let i = 0; i < quarter; i++) d = [d[1], -d[0]]; // the screen's direction, in the photo
      const s = step(k, d) * (e.shiftKey ? 10 : 1);
      placed.add(k);
      at[k] = [at[k][0] + d[0] * s, at[k][1] + d[1] * s];
      changed(); magnify(k);
    });
  }

  if (can) {
    addEventListener("keydown", e => { if ((e.ctrlKey || e.metaKey) && e.key === "z" && !/INPUT|TEXTAREA/.test(document.activeElement.tagName)) { e.preventDefault(); undo(); } });
    $("undo").addEventListener("click", undo);
    const form = $("review");
    form.source?.addEventListener("change", () => { past = []; $("undo").disabled = true; populate(); changed(); });
    form.reviewer.value = localStorage.getItem("sitspan.reviewer") || "";
    form.u.addEventListener("input", () => { if (touched) live(); });
    form.addEventListener("submit", async e => {
      e.preventDefault();
      if (Object.keys(handles).some(k => !placed.has(k))) { fault($("keep").dataset.place); return; }
      localStorage.setItem("sitspan.reviewer", form.reviewer.value);
      try {
        const r = await post(data.byHand ? `/shots/${data.shot}/by-hand` : `/records/${data.record}/review`, words());
        if (r.ok) { touched = false; location.href = `/visits/${visit}/imprint`; return; }
        fault((await r.json()).error);
      } catch { fault($("keep").dataset.away); }
    });
    addEventListener("beforeunload", e => { if (touched) e.preventDefault(); });
  }
  // px for 0.1 mm in a direction of the screen; half a screen pixel where no scale is known
  function step(k, d) {
    if (data.byHand) return handStep() * 0.1;
    if (!inverse) return 0.5 * unit();
    const p = map(inverse, at[k]), q = map(inverse, [at[k][0] + d[0], at[k][1] + d[1]]);
    return 0.1 / Math.hypot(q[0] - p[0], q[1] - p[1]);
  }

  // px for 1 mm by the scale as it is set
  function handStep() {
    const d = (a, b) => Math.hypot(at[a][0] - at[b][0], at[a][1] - at[b][1]);
    if (source() === "card") return Math.max(d(1, 2) + d(3, 4), d(2, 3) + d(4, 1)) / 2 / 85.6;
    const mm = Number($("length").value.replace(",", "."));
    return mm > 0 ? d("a", "b") / mm : 5 * unit();
  }

  // ---- turning: the frame's front goes up; and zoom: all of the photo, or the imprint
  let zoomed = false;
  function look() {
    world.setAttribute("transform", `rotate(${90 * quarter} ${W / 2} ${H / 2})`);
    let w = quarter % 2 ? H : W, h = quarter % 2 ? W : H, c = [W / 2, H / 2];
    if (zoomed) {
      const m = [(at.left[0] + at.right[0]) / 2 - W / 2, (at.left[1] + at.right[1]) / 2 - H / 2];
      const [x, y] = [[m[0], m[1]], [-m[1], m[0]], [-m[0], -m[1]], [m[1], -m[0]]][quarter];
      c = [c[0] + x, c[1] + y];
      const apart = Math.hypot(at.left[0] - at.right[0], at.left[1] - at.right[1]), f = Math.min(1, 1.7 * apart / Math.max(w, h));
      w *= f; h *= f;
    }
    stage.setAttribute("viewBox", `${c[0] - w / 2} ${c[1] - h / 2} ${w} ${h}`);
    draw();
  }
  $("zoom").addEventListener("click", () => { zoomed = !zoomed; $("zoom").setAttribute("aria-pressed", zoomed); look(); });
  $("turn").addEventListener("click", () => { quarter = (quarter + 1) % 4; look(); });
  addEventListener("resize", draw);
  populate();
  look();
})();
