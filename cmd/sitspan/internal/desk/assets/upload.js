// The one upload queue, of the desk's page and of the phone's: a photo at a time, in the order in which
// they came. What the line loses is sent again; a photo that arrived is never sent twice. It knows no page
// and no network: both are given to it.

// Refused is an answer that sending again would not change.
export class Refused extends Error {}

// The states of a photo in the queue.
export const waiting = "waiting",
  sending = "sending",
  paused = "paused",
  looking = "looking";
export const good = "good",
  doubt = "doubt",
  bad = "bad",
  refused = "refused";

const underWay = new Set([waiting, sending, paused, looking]);
const settled = new Set([good, doubt, bad]);

// How long the queue waits after so many failures in a row, s; then the last again and again.
export const pauses = [1, 2, 4, 8, 15, 30];

export class UploadQueue {
  // send(item, progress) gives {id, again}, or fails: with Refused for good; again says that the visit had
  // this photo. verdict(id, again) gives {state, good, title, text, hint}. keep stores what is not sent yet,
  // so that it outlives the page: put(item), drop(item).
  constructor({
    send,
    verdict,
    keep,
    changed = () => {},
    sleep = s => new Promise(r => setTimeout(r, 1000 * s)),
  }) {
    Object.assign(this, {send, verdict, keep, changed, sleep});
    this.items = [];
    this.running = null;
    this.next = 0;
  }

  // add takes photos for a visit; key is that of one which was kept before.
  add(files, visit, keys = []) {
    const added = [...files].map((file, i) => ({
      key: keys[i] ?? `${Date.now()}-${this.next++}-${file.name}`,
      file,
      visit,
      name: file.name,
      state: waiting,
      progress: 0,
    }));
    this.items.push(...added);
    for (const item of added) this.keep?.put(item);
    this.changed();
    this.run();
    return added;
  }

  // counts are what the page says of all; photos are the good ones, each once however often it was sent.
  counts() {
    const of = state => this.items.filter(i => i.state === state).length;
    return {
      all: this.items.length,
      good: of(good),
      photos: new Set(this.items.filter(i => i.state === good).map(i => i.id)).size,
      left: this.items.filter(i => underWay.has(i.state)).length,
    };
  }

  busy() {
    return this.items.some(i => i.state === waiting || i.state === sending || i.state === paused);
  }

  // retry sends one again that was refused, or ends a pause.
  retry(item) {
    if (item.state === refused) {
      Object.assign(item, {state: waiting, progress: 0, text: ""});
      this.keep?.put(item);
    }
    this.wake?.();
    this.changed();
    this.run();
  }

  // drop takes one out that was not sent.
  drop(item) {
    if (item.state === sending || item.state === looking) return;
    this.items = this.items.filter(i => i !== item);
    this.keep?.drop(item);
    this.wake?.();
    this.changed();
  }

  // clear takes out what is done.
  clear() {
    this.items = this.items.filter(i => underWay.has(i.state) || i.state === refused);
    this.changed();
  }

  run() {
    this.running ??= this.work().finally(() => {
      this.running = null;
    });
    return this.running;
  }

  async work() {
    for (let item; (item = this.items.find(i => i.state === waiting || i.state === paused));) {
      if (await this.sendOne(item)) this.look(item);
    }
  }

  // sendOne sends until it is taken or refused.
  async sendOne(item) {
    for (let failures = 0; this.items.includes(item); failures++) {
      this.set(item, {state: sending, progress: 0});
      try {
        const {id, again} = await this.send(item, part => this.set(item, {progress: part}));
        this.set(item, {state: looking, id, again, progress: 1});
        this.keep?.drop(item);
        return true;
      } catch (e) {
        if (e instanceof Refused) {
          this.set(item, {state: refused, text: e.message});
          this.keep?.drop(item); // sending it again by itself would change nothing
          return false;
        }
        this.set(item, {state: paused, progress: 0});
        await this.pause(pauses[Math.min(failures, pauses.length - 1)]);
      }
    }
    return false;
  }

  // pause waits, or until somebody is impatient.
  pause(seconds) {
    return new Promise(done => {
      this.wake = done;
      this.sleep(seconds).then(done);
    }).finally(() => {
      this.wake = null;
    });
  }

  // look waits for what the desk says of a photo that it has.
  async look(item) {
    for (let failures = 0; ; failures++) {
      let said;
      try {
        said = await this.verdict(item.id, item.again);
      } catch (e) {
        if (e instanceof Refused) {
          this.set(item, {state: bad, text: e.message});
          return;
        }
      }
      if (said && said.state !== "waiting") {
        const state = said.good ? good : said.state === "review" ? doubt : bad;
        this.set(item, {state, title: said.title, text: said.text, hint: said.hint});
        return;
      }
      await this.sleep(said ? 0.3 : pauses[Math.min(failures, pauses.length - 1)]);
    }
  }

  set(item, values) {
    Object.assign(item, values);
    this.changed(item);
  }
}

export const isSettled = item => settled.has(item.state);
