// The queue as people see it: a line a photo, and how many are good.
import {say} from "./net.js";
import * as up from "./upload.js";

const look = {
  [up.good]: "good",
  [up.doubt]: "again",
  [up.bad]: "again",
  [up.refused]: "again",
  [up.paused]: "again",
};

const sent = i => say("upload.sent", {percent: Math.floor(100 * i.progress)});

const words = {
  [up.waiting]: () => say("upload.waiting"),
  [up.sending]: i => `${say("upload.sending")} · ${sent(i)}`,
  [up.paused]: () => say("upload.paused"),
  [up.looking]: () => say("upload.looking"),
};

const sentence = s => (/[.!?]$/.test(s) ? s : `${s}.`);

const textOf = i =>
  words[i.state]?.(i) ??
  (i.title ? [i.title, i.text, i.hint].filter(Boolean).map(sentence).join(" ") : (i.text ?? ""));

function element(tag, cls, parent) {
  const e = document.createElement(tag);
  if (cls) e.className = cls;
  parent?.append(e);
  return e;
}

// showQueue draws the queue into a list and a line, and again at each change; done lines go where hideDone
// says so.
export function showQueue(queue, list, count, {hideDone = false} = {}) {
  const lines = new Map();
  const line = item => {
    const li = element("li"),
      picture = element("img", "", li),
      body = element("div", "", li);
    picture.alt = "";
    picture.src = URL.createObjectURL(item.file);
    picture.onload = () => {
      if (picture.src.startsWith("blob:")) URL.revokeObjectURL(picture.src);
    };
    picture.onerror = () => {
      URL.revokeObjectURL(picture.src);
      picture.onerror = null;
      picture.src = "/assets/torn.svg";
      picture.className = "torn";
    };
    element("b", "", body).textContent = item.name;
    const text = element("span", "", body),
      bar = element("progress", "", body);
    bar.max = 1;
    bar.setAttribute("aria-label", item.name);
    const retry = element("button", "small", li),
      drop = element("button", "small", li);
    retry.type = drop.type = "button";
    retry.textContent = say("upload.retry");
    retry.addEventListener("click", () => queue.retry(item));
    drop.addEventListener("click", () => queue.drop(item));
    list.append(li);
    return {li, text, bar, retry, drop};
  };
  const draw = () => {
    const shown = queue.items.filter(i => !(hideDone && up.isSettled(i) && !i.again));
    for (const [item, l] of lines)
      if (!shown.includes(item)) {
        l.li.remove();
        lines.delete(item);
      }
    for (const item of shown) {
      if (!lines.has(item)) lines.set(item, line(item));
      const l = lines.get(item);
      l.li.className = look[item.state] ?? "";
      l.text.textContent = textOf(item);
      l.bar.value = item.progress;
      l.bar.hidden = item.state !== up.sending;
      l.retry.hidden = item.state !== up.refused && item.state !== up.paused;
      const told = up.isSettled(item) && item.again;
      l.drop.hidden = l.retry.hidden && !(told && hideDone);
      l.drop.textContent = say(told ? "upload.ok" : "upload.drop");
    }
    const c = queue.counts();
    count.textContent = c.all ? say("upload.count", {good: c.good, of: c.all}) : "";
  };
  const before = queue.changed;
  queue.changed = item => {
    before(item);
    draw();
  };
  draw();
}
