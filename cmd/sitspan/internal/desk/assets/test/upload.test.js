import assert from "node:assert/strict";
import {test} from "node:test";
import {Refused, UploadQueue, pauses} from "../upload.js";

// bench is a queue whose network and clock are the test's.
function bench({send, verdict = async () => ({state: "measured", good: true, title: "Good"})}) {
  const slept = [],
    kept = new Map();
  const queue = new UploadQueue({
    send,
    verdict,
    sleep: async s => {
      slept.push(s);
      await new Promise(r => setImmediate(r));
    },
    keep: {put: i => kept.set(i.key, i), drop: i => kept.delete(i.key)},
  });
  return {queue, slept, kept};
}

const files = n => Array.from({length: n}, (_, i) => ({name: `${i + 1}.jpg`}));
const until = async f => {
  for (let i = 0; i < 500 && !f(); i++) await new Promise(r => setImmediate(r));
  assert.ok(f(), "waited in vain");
};

test("photos go one at a time, in their order, with their visit", async () => {
  const sent = [];
  let at = 0;
  const {queue, kept} = bench({
    send: async item => {
      assert.equal(++at, 1, "one at a time");
      sent.push([item.name, item.visit]);
      await new Promise(r => setImmediate(r));
      at--;
      return {id: sent.length};
    },
  });
  queue.add(files(2), 7);
  queue.add(files(1), 8);
  await until(() => queue.counts().good === 3);
  assert.deepEqual(sent, [
    ["1.jpg", 7],
    ["2.jpg", 7],
    ["1.jpg", 8],
  ]);
  assert.equal(kept.size, 0, "nothing is left to be sent");
});

test("a line that breaks costs nothing: the same photo goes again, later and later", async () => {
  let failures = 8;
  const {queue, slept, kept} = bench({
    send: async () => {
      if (failures-- > 0) throw new Error("no answer");
      return {id: 1};
    },
  });
  queue.add(files(1), 1);
  await until(() => queue.items[0].state === "paused");
  assert.equal(kept.size, 1, "it is kept until it has arrived");
  await until(() => queue.counts().good === 1);
  assert.deepEqual(slept.slice(0, 8), [...pauses, 30, 30]);
});

test("two of three are good", async () => {
  const said = [
    {state: "measured", good: true},
    {state: "refused", good: false, title: "Take it again", hint: "Move the lamp."},
    {state: "measured", good: true},
  ];
  let n = 0;
  const {queue} = bench({send: async () => ({id: n++}), verdict: async id => said[id]});
  queue.add(files(3), 1);
  await until(() => queue.counts().left === 0);
  assert.deepEqual(queue.counts(), {all: 3, good: 2, left: 0, photos: 2});
  assert.equal(queue.items[1].hint, "Move the lamp.");
});

test("what is refused stays, others go on, and it can be tried again", async () => {
  let large = true;
  const {queue, kept} = bench({
    send: async item => {
      if (item.name === "1.jpg" && large) throw new Refused("The file is too large");
      return {id: 1};
    },
  });
  const [first] = queue.add(files(2), 1);
  await until(() => queue.counts().good === 1 && first.state === "refused");
  assert.equal(first.text, "The file is too large");
  assert.equal(kept.size, 0, "the next page does not send it again");
  large = false;
  queue.retry(first);
  await until(() => queue.counts().good === 2);
});

test("somebody impatient ends a pause", async () => {
  let down = true;
  const queue = new UploadQueue({
    send: async () => {
      if (down) throw new Error();
      return {id: 1};
    },
    verdict: async () => ({state: "measured", good: true}),
    sleep: () => new Promise(() => {}), // for ever
  });
  const [item] = queue.add(files(1), 1);
  await until(() => item.state === "paused");
  down = false;
  queue.retry(item);
  await until(() => item.state === "good");
});

test("a photo that was left goes nowhere", async () => {
  const sent = [];
  let arrive;
  const {queue, kept} = bench({
    send: async item => {
      sent.push(item.name);
      await new Promise(r => (arrive = r));
      return {id: 1};
    },
  });
  const [, second] = queue.add(files(2), 1);
  queue.drop(second);
  arrive();
  await until(() => queue.counts().good === 1);
  assert.deepEqual(sent, ["1.jpg"]);
  assert.equal(kept.size, 0);
});

test("the desk is away while a photo is looked at: it is asked again, and not sent again", async () => {
  let sent = 0,
    asked = 0;
  const {queue} = bench({
    send: async () => ({id: ++sent}),
    verdict: async () => {
      if (++asked < 3) throw new Error("no answer");
      return asked < 5 ? {state: "waiting"} : {state: "review", good: false};
    },
  });
  const [item] = queue.add(files(1), 1);
  await until(() => item.state === "doubt");
  assert.equal(sent, 1);
});

test("a photo that was there already says so, and is one photo", async () => {
  const asked = [];
  const queue = new UploadQueue({
    send: async () => ({id: 7, again: true}),
    verdict: async (id, again) => {
      asked.push([id, again]);
      return {state: "measured", good: true, title: "Good", text: "It is here already."};
    },
    sleep: async () => {},
  });
  queue.add([{name: "a.jpg"}, {name: "b.jpg"}], 1);
  await queue.run();
  await new Promise(r => setTimeout(r, 10));
  assert.deepEqual(asked, [
    [7, true],
    [7, true],
  ]);
  assert.deepEqual(queue.counts(), {all: 2, good: 2, left: 0, photos: 1});
});

test("one that was refused is kept again where somebody sends it again", async () => {
  let busy = true;
  const {queue, kept} = bench({
    send: async () => {
      if (busy) throw new Refused("no photo");
      return new Promise(() => {}); // the page may end now
    },
  });
  const [item] = queue.add(files(1), 1);
  await until(() => item.state === "refused");
  assert.equal(kept.size, 0);
  busy = false;
  queue.retry(item);
  await until(() => item.state === "sending");
  assert.equal(kept.size, 1);
});
