// The imprint's page: photos in, and the strip and the stage that follow what the desk has, in place.
import {say, token} from "./net.js";
import {UploadQueue} from "./upload.js";
import {senderTo, verdictFrom} from "./send.js";
import {showQueue} from "./queueview.js";
import {keep, takeUp} from "./keep.js";
import {Stage} from "./stage.js";
import {showFault} from "./fault.js";

const $ = id => document.getElementById(id);
const root = $("imprint"),
  visit = Number(root.dataset.visit);
const page = `/visits/${visit}/imprint`;
let stage = null;

// ---- photos in
const queue = new UploadQueue({
  send: senderTo(v => `/visits/${v}/photos`),
  verdict: verdictFrom(id => `/shots/${id}/verdict`),
  keep,
  changed: () => refresh(),
});
showQueue(queue, $("queue"), $("count"), {hideDone: true});
takeUp(queue, visit);
$("files").addEventListener("change", e => {
  queue.add([...e.target.files], visit);
  e.target.value = "";
});
addEventListener("dragover", e => {
  e.preventDefault();
  root.classList.add("over");
});
addEventListener("dragleave", e => {
  if (!e.relatedTarget) root.classList.remove("over");
});
addEventListener("drop", e => {
  e.preventDefault();
  root.classList.remove("over");
  if (e.dataTransfer.files.length) queue.add([...e.dataTransfer.files], visit);
});
addEventListener("beforeunload", e => {
  if (queue.busy()) {
    e.preventDefault();
    e.returnValue = say("upload.leave");
  }
});

// ---- the strip, which is asked for again and again
let shown = "",
  asking = false;

async function refresh() {
  if (asking) return;
  asking = true;
  try {
    const r = await fetch(`/visits/${visit}/strip${location.search}`);
    if (!r.ok) return;
    const html = (await r.text()).trim();
    if (html !== shown) {
      $("strip").innerHTML = html;
      shown = html;
    }
    const now = $("strip").querySelector(".tiles").dataset.stage;
    if (now === root.dataset.stage) return;
    if (stage?.touched())
      $("newer").hidden = false; // what the person has moved is not taken away
    else await renew();
  } catch {
    /* the desk is away for a moment */
  } finally {
    asking = false;
  }
}
setInterval(refresh, 900);

// The buttons of the strip act in place: nothing that is typed elsewhere on the page is lost.
$("strip").addEventListener("submit", async e => {
  if (!e.target.hasAttribute("data-in-place")) return;
  e.preventDefault();
  const body = new URLSearchParams(new FormData(e.target, e.submitter));
  const r = await fetch(e.target.action, {
    method: "POST",
    body,
    headers: {"X-Sitspan-Token": token, Accept: "application/json"},
  }).catch(() => null);
  const said = r?.ok ? {} : ((await r?.json().catch(() => null)) ?? {error: say("desk.away")});
  $("count").textContent = said.error ?? "";
  if (r?.ok && e.target.action.endsWith(`/shots/${root.dataset.shot}/delete`)) {
    stage?.forget(); // of a photo that is gone nothing is to be kept
    await renew(page);
  }
  refresh();
});

// What is wrong with the pad or the gauge is said beside its field; nothing that was typed is lost.
$("setup").addEventListener("submit", async e => {
  e.preventDefault();
  const r = await fetch(e.target.action, {
    method: "POST",
    body: new URLSearchParams(new FormData(e.target)),
    headers: {"X-Sitspan-Token": token, Accept: "application/json"},
  }).catch(() => null);
  if (r?.ok) {
    location.assign(page);
    return;
  }
  const said = (await r?.json().catch(() => null)) ?? {error: say("desk.away")};
  showFault(e.target, $("setup-fault"), said.error, said.field);
});

// ---- the stage, which is put in place anew where the desk shows something else
const parts = [".hero", ".panel"];

async function renew(to = location.href) {
  const r = await fetch(to);
  if (r.status === 404 && to !== page) {
    await renew(page); // what was shown is deleted
    return;
  }
  if (!r.ok) return;
  const fresh = new DOMParser().parseFromString(await r.text(), "text/html");
  if (!fresh.getElementById("imprint")) return;
  stage?.stop();
  for (const part of parts) root.querySelector(part).replaceWith(fresh.querySelector(part));
  document.querySelector("label.add").hidden = fresh.querySelector("label.add").hidden;
  Object.assign(root.dataset, {...fresh.getElementById("imprint").dataset});
  $("newer").hidden = true;
  if (to !== location.href) window.history.replaceState(null, "", to);
  begin();
}

// kept goes on to the choice where a number was confirmed as it is; what was moved is shown first.
function kept({moved}) {
  if (moved || queue.busy()) renew(page);
  else location.assign(`/visits/${visit}/choice`);
}

function begin() {
  stage = $("stage") ? new Stage(root, {kept, show: () => renew()}) : null;
}

$("newer-show").addEventListener("click", () => {
  stage?.forget();
  renew();
});
begin();
refresh();
