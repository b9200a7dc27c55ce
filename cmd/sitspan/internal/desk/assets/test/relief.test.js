import assert from "node:assert/strict";
import {test} from "node:test";
import {levelled, sampled, stretched} from "../relief.js";

const n = 40;
// A dent of two greys on a slope of light of 60.
const grey = (x, y) => 100 + 1.5 * x + 2 * Math.exp(-((x - 20) ** 2 + (y - 20) ** 2) / 20);
const greys = Float32Array.from({length: n * n}, (_, i) => grey(i % n, Math.floor(i / n)));

test("a dent of two greys on a slope of light is seen", () => {
  const out = stretched(levelled(greys, n)),
    at = (x, y) => out[y * n + x];
  assert.ok(at(20, 20) - at(3, 3) > 15, `${at(20, 20)} above ${at(3, 3)}`); // ten times what it was
  assert.ok(Math.abs(at(3, 20) - at(36, 20)) < 6, "the slope is gone");
});

test("a strong picture fills all greys, and grain is not raised without bound", () => {
  const strong = stretched(Float32Array.from({length: 100}, (_, i) => (i % 10) * 20));
  assert.equal(Math.min(...strong), 0);
  assert.equal(Math.max(...strong), 255);
  const grain = stretched(Float32Array.from({length: 100}, (_, i) => 100 + (i % 2)));
  assert.ok(Math.max(...grain) - Math.min(...grain) <= 12);
});

test("the magnifier is turned with the photo, and its edge goes on beyond it", () => {
  const width = 9,
    height = 9,
    data = new Uint8ClampedArray(4 * width * height).fill(10);
  for (const k of [0, 1, 2]) data[4 * (4 * width + 7) + k] = 210; // bright, right of the middle
  const bright = q => sampled({data, width, height}, [4, 4], 4.5, 9, q).indexOf(210);
  assert.equal(bright(0), 4 * 9 + 7);
  assert.equal(bright(1), 7 * 9 + 4); // a quarter clockwise: below
  assert.equal(bright(2), 4 * 9 + 1);
  assert.equal(bright(3), 1 * 9 + 4);
  assert.ok(sampled({data, width, height}, [-50, -50], 4, 9, 0).every(v => v === 10));
});
