// How the queue reaches the desk: a photo by XMLHttpRequest, which tells how far it is, and its verdict by
// fetch.
import {get, say, token} from "./net.js";
import {Refused} from "./upload.js";

// again are the answers after which the same photo may be sent again: too busy, or nobody there.
const again = status => status === 0 || status === 429 || status >= 502;

// senderTo makes the queue's send; url is where a photo of a visit goes.
export const senderTo = url => (item, progress) =>
  new Promise((done, fail) => {
    const r = new XMLHttpRequest(),
      form = new FormData();
    form.append("photo", item.file, item.name);
    r.open("POST", url(item.visit));
    r.setRequestHeader("X-Sitspan-Token", token);
    r.setRequestHeader("Accept", "application/json");
    r.upload.onprogress = e => {
      if (e.lengthComputable) progress(e.loaded / e.total);
    };
    r.onerror = r.ontimeout = r.onabort = () => fail(new Error("no answer"));
    r.onload = () => {
      let said = {};
      try {
        said = JSON.parse(r.responseText);
      } catch {
        /* not the desk's own answer */
      }
      const one = said.photos?.[0] ?? said;
      if (one.id) done({id: one.id});
      else if (again(r.status)) fail(new Error("no answer"));
      else fail(new Refused(one.error || say("upload.broken")));
    };
    r.send(form);
  });

// verdictFrom makes the queue's verdict; url is where a photo's is asked for.
export const verdictFrom = url => async id => {
  const r = await get(url(id));
  if (r.ok) return r.json();
  if (again(r.status)) throw new Error("no answer");
  throw new Refused((await r.json().catch(() => ({}))).error || say("upload.broken"));
};
