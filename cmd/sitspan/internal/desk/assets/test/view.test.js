import assert from "node:assert/strict";
import {test} from "node:test";
import * as view from "../view.js";

const size = [800, 600],
  frame = view.frameOf(size, 2); // a stage twice as wide as high

const near = (got, want) => got.forEach((v, i) => assert.ok(Math.abs(v - want[i]) < 1e-9, `${got}, ${want}`));

test("all of a picture is seen on a stage of another shape", () => {
  near(frame, [1200, 600]);
  near(view.frameOf(size, 1), [800, 800]);
  near(view.boxOf(view.whole, frame, [400, 300]), [-200, 0, 1200, 600]);
  near(view.turned(800, 600, 3), [600, 800]);
});

test("what lies under the pointer stays there", () => {
  const before = {x: 0, y: 0, times: 4},
    after = view.zoomed(before, 2, [50, -20], size, frame);
  assert.equal(after.times, 8);
  // its distance from the stage's middle, in px of the screen, is that of before
  near([(50 - after.x) * 8, (-20 - after.y) * 8], [50 * 4, -20 * 4]);
});

test("a view stays on its picture, and within its bounds", () => {
  near(Object.values(view.held({x: 999, y: 0, times: 4}, size, frame)), [400 - 150, 0, 4]);
  near(Object.values(view.held({x: 999, y: 999, times: 1}, size, frame)), [0, 0, 1]);
  assert.equal(view.zoomed(view.whole, 1e6, [0, 0], size, frame).times, view.most);
  assert.equal(view.zoomed(view.whole, 0.1, [0, 0], size, frame).times, 1);
});

test("a picture follows the hand", () => {
  const v = view.moved({x: 0, y: 0, times: 4}, [10, -5], size, frame);
  near([v.x, v.y], [-10, 5]);
});

test("two places are shown with room about them", () => {
  const v = view.round([-100, 20], [100, 20], size, frame);
  near([v.x, v.y], [0, 20]);
  assert.ok(frame[0] / v.times > 250 && frame[0] / v.times < 600, `${v.times}`);
});
