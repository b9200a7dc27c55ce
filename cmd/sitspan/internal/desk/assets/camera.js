// A phone's page: photos go up for one visit, and the answer is good, or why not.
import {get, post, say} from "./net.js";
import {UploadQueue, isSettled, refused} from "./upload.js";
import {senderTo, verdictFrom} from "./send.js";
import {showQueue} from "./queueview.js";
import {keep, takeUp} from "./keep.js";

const $ = id => document.getElementById(id);
const root = $("camera");
const enough = 3; // good photos are measured together
const here = {visit: Number(root.dataset.visit ?? 0), alias: root.dataset.alias ?? ""};

function tell(title, why, todo, look) {
  root.className = "camera " + look;
  $("verdict").textContent = title;
  $("why").textContent = why || "";
  $("do").textContent = todo || "";
  if (look) $("verdict").focus({preventScroll: true});
}

const queue = new UploadQueue({
  send: senderTo(visit => `/camera/visits/${visit}/photos`),
  verdict: verdictFrom(id => `/camera/photos/${id}`),
  keep,
  changed: item => {
    if (!item) return;
    if (isSettled(item)) {
      const good = item.state === "good",
        done = good && queue.counts().photos >= enough && !item.again;
      tell(item.title, done ? say("camera.enough") : item.text, item.hint, good ? "good" : "again");
    }
    if (item.state === refused) tell(say("camera.refused"), item.text, "", "again");
  },
});
showQueue(queue, $("queue"), $("count"));
if (here.visit) takeUp(queue, here.visit);

for (const id of ["take", "pick"]) {
  $(id).addEventListener("change", e => {
    queue.add([...e.target.files], here.visit);
    e.target.value = "";
  });
}

// ---- where the photos go: the desk may ask this phone to come to another visit, and it says yes or no
let asked = null;

function moveTo(place) {
  Object.assign(here, place);
  queue.clear();
  $("place").textContent = say("camera.for", here);
  $("place").hidden = false;
}

function gone() {
  tell(say("device.gone.title"), say("device.gone"), "", "again");
  document.querySelector(".bottom").hidden = true;
  $("asked").hidden = true;
  keep.clear();
}

async function look() {
  try {
    const r = await get("/camera/state");
    if (r.status === 410 || r.status === 404) {
      gone();
      return;
    }
    const said = await r.json();
    asked = queue.busy() ? null : said.asked;
    if (said.here && said.here.visit !== here.visit && !queue.busy()) moveTo(said.here);
    $("asked").hidden = !asked;
    if (asked) {
      $("asked-place").textContent = asked.alias;
      $("come").textContent = say("camera.come", asked);
      $("stay").textContent = say("camera.stay", here);
    }
  } catch {
    /* no connection: the queue says so */
  }
  setTimeout(look, 1500);
}
look();

async function answer(visit) {
  const r = await post("/camera/visit", {visit}).catch(() => null);
  if (!r?.ok) return;
  const said = await r.json();
  $("asked").hidden = true;
  if (said.here) moveTo(said.here);
}
$("come").addEventListener("click", () => {
  if (asked) answer(asked.visit);
});
$("stay").addEventListener("click", () => answer(0));
