// How the queue reaches the desk: a photo in parts by XMLHttpRequest, which tells how far it is, and its
// verdict by fetch.
import {get, say, token} from "./net.js";
import {Refused} from "./upload.js";

// again are the answers after which the same photo may be sent again: too busy, or nobody there.
const again = status => status === 0 || status === 429 || status >= 502;

// part is how much goes in one request, bytes: 4 s of a line of 60 kB/s.
export const part = 256 * 1024;

// sendPart sends what begins at a place; the answer is the desk's.
const sendPart = (url, item, at, progress) =>
  new Promise((done, fail) => {
    const r = new XMLHttpRequest(),
      {file} = item,
      end = Math.min(file.size, at + part);
    r.open("POST", url);
    const headers = {
      "X-Sitspan-Token": token,
      "X-Sitspan-Upload": encodeURIComponent(item.key),
      "X-Sitspan-Name": encodeURIComponent(item.name),
      "X-Sitspan-Size": file.size,
      "X-Sitspan-At": at,
      "Content-Type": "application/octet-stream",
      Accept: "application/json",
    };
    for (const name in headers) r.setRequestHeader(name, headers[name]);
    r.upload.onprogress = e => progress((at + e.loaded) / file.size);
    // a file that was moved or deleted after it was chosen fails like a line that breaks, and for good
    r.onerror =
      r.ontimeout =
      r.onabort =
        () =>
          file
            .slice(at, end)
            .arrayBuffer()
            .then(
              () => fail(new Error("no answer")),
              () => fail(new Refused(say("upload.gone"))),
            );
    r.onload = () => {
      let said = {};
      try {
        said = JSON.parse(r.responseText);
      } catch {
        /* not the desk's own answer */
      }
      const one = said.photos?.[0] ?? said;
      if (one.id || (r.status === 200 && Number.isInteger(one.at))) done(one);
      else if (again(r.status)) fail(new Error("no answer"));
      else fail(new Refused(one.error || say("upload.broken")));
    };
    r.send(file.slice(at, end));
  });

// senderTo makes the queue's send; url is where a photo of a visit goes. After a break it goes on where the
// desk says that it ends.
export const senderTo = url => async (item, progress) => {
  for (;;) {
    const said = await sendPart(url(item.visit), item, item.at ?? 0, progress);
    if (said.id) return {id: said.id, again: Boolean(said.again)};
    item.at = said.at;
    progress(item.at / item.file.size);
  }
};

// verdictFrom makes the queue's verdict; url is where a photo's is asked for.
export const verdictFrom = url => async (id, again) => {
  const r = await get(url(id) + (again ? "?again" : ""));
  if (r.ok) return r.json();
  if (again(r.status)) throw new Error("no answer");
  throw new Refused((await r.json().catch(() => ({}))).error || say("upload.broken"));
};
