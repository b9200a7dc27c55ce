import assert from "node:assert/strict";
import {test} from "node:test";
import * as geo from "../geometry.js";

const near = (got, want, within = 1e-9) => {
  assert.equal(got.length, want.length);
  got.forEach((v, i) => assert.ok(Math.abs(v - want[i]) <= within, `${got} is not ${want}`));
};

// A homography with perspective; its third row is that of a camera tilted toward y.
const h = [2, 0.1, 400, -0.2, 1.8, 300, 0.0002, 0.001, 1];

test("the inverse brings a point back", () => {
  const back = geo.invert(h);
  for (const p of [
    [0, 0],
    [60, -20],
    [-100, 70],
  ])
    near(geo.project(back, geo.project(h, p)), p);
});

test("a homography that only shifts and doubles", () => {
  near(geo.project([2, 0, 10, 0, 2, 20, 0, 0, 1], [3, 4]), [16, 28]);
});

test("the front goes up, whichever way the photo lies", () => {
  // Columns are where x and y of the plane point to in the picture; the front lies toward negative y.
  assert.equal(geo.frontUp([1, 0, 0, 0, 1, 0, 0, 0, 1]), 0);
  assert.equal(geo.frontUp([-1, 0, 0, 0, -1, 0, 0, 0, 1]), 2);
  assert.equal(geo.frontUp([0, 1, 0, -1, 0, 0, 0, 0, 1]), 1); // the front points left
  assert.equal(geo.frontUp([0, -1, 0, 1, 0, 0, 0, 0, 1]), 3); // the front points right
});

test("a direction of the screen, in a turned photo, and back", () => {
  near(geo.inPhoto([1, 0], 0), [1, 0]);
  near(geo.inPhoto([1, 0], 1), [0, -1]); // turned clockwise, right on the screen was up in the photo
  for (const q of [0, 1, 2, 3]) near(geo.onScreen(geo.inPhoto([3, -5], q), q), [3, -5]);
});

test("px of a millimetre, along and across", () => {
  const back = geo.invert([4, 0, 0, 0, 2, 0, 0, 0, 1]);
  near([geo.pxPerMM(back, [0, 0], [1, 0]), geo.pxPerMM(back, [0, 0], [0, 1])], [4, 2]);
});

test("a card's corners have its sides", () => {
  const q = geo.cardCorners([100, 50], 85.6, 85.6 / 53.98);
  near(
    [
      geo.distance(q[0], q[1]),
      geo.distance(q[1], q[2]),
      geo.distance(q[2], q[3]),
      geo.distance(q[3], q[0]),
    ],
    [85.6, 53.98, 85.6, 53.98],
  );
  near([(q[0][0] + q[2][0]) / 2, (q[0][1] + q[2][1]) / 2], [100, 50]);
});

test("a point stays in the picture", () => {
  near(geo.within([-3, 900], 800, 600), [0, 599]);
  near(geo.within([5, 6], 800, 600), [5, 6]);
});

test("the region of 95 % has the half axes of its covariance", () => {
  const dent = {plane_mm: [10, 20], cov_mm2: [4, 0, 1]};
  const points = geo.region95(dent, [1, 0, 0, 0, 1, 0, 0, 0, 1], 4);
  const k = Math.sqrt(5.991464547107979); // chi-square, 2 degrees of freedom, 95 %: -2 ln 0.05
  near(
    points.flat(),
    [
      [10 + 2 * k, 20],
      [10, 20 + k],
      [10 - 2 * k, 20],
      [10, 20 - k],
    ].flat(),
    1e-6,
  );
});
