// A phone's page: a photo goes up, and the answer is good, or why not.
"use strict";
(() => {
  const $ = id => document.getElementById(id);
  const root = $("camera"), words = root.dataset, token = document.querySelector("meta[name=token]").content;
  const say = (title, why, todo, look) => {
    root.className = "camera " + look;
    $("verdict").textContent = title; $("why").textContent = why || ""; $("do").textContent = todo || "";
    if (look) $("verdict").focus({preventScroll: true});
  };
  const wait = ms => new Promise(r => setTimeout(r, ms));

  async function verdict(id) {
    for (let i = 0; i < 120; i++) {
      const r = await fetch("/camera/photos/" + id, {headers: {"Accept": "application/json"}});
      if (!r.ok) throw new Error();
      const v = await r.json();
      if (v.state !== "waiting") return v;
      await wait(200);
    }
    return {good: false, title: words.slow, text: ""};
  }

  async function send(file) {
    const small = document.createElement("img");
    small.alt = file.name; small.src = URL.createObjectURL(file);
    small.onload = small.onerror = () => URL.revokeObjectURL(small.src);
    say(words.sending + " …", "", "", "");
    const form = new FormData();
    form.append("photo", file, file.name);
    try {
      const r = await fetch("/camera/photos", {method: "POST", body: form, headers: {"X-Sitspan-Token": token, "Accept": "application/json"}});
      const said = await r.json();
      const one = said.photos ? said.photos[0] : said;
      if (one.error) { say(words.refused, one.error, "", "again"); return; }
      $("shots").prepend(small);
      say(words.measuring + " …", "", "", "");
      const v = await verdict(one.id);
      small.className = v.good ? "good" : "again";
      say(v.title, v.text, v.hint, v.good ? "good" : "again");
    } catch {
      say(words.refused, words.broken, "", "again");
    }
  }

  for (const id of ["take", "pick"]) {
    $(id).addEventListener("change", async e => {
      const files = [...e.target.files];
      e.target.value = "";
      for (const f of files) await send(f);
    });
  }
})();
