// Arithmetic of the stage: pixels of the upright picture, millimetres of the imprint's plane, and the
// screen. A homography is nine numbers, row by row. It knows no page, so that its tests need none.

// invert is the inverse of a homography, up to a factor.
export function invert([a, b, c, d, e, f, g, h, i]) {
  return [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
    d * h - e * g,
    b * g - a * h,
    a * e - b * d,
  ];
}

// project carries a point by a homography.
export function project(m, [x, y]) {
  const w = m[6] * x + m[7] * y + m[8];
  return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
}

export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

// frontUp is how many quarter turns clockwise bring the frame's front, which lies toward negative y, up.
export function frontUp(imageFromPlane) {
  const o = project(imageFromPlane, [0, 0]),
    f = project(imageFromPlane, [0, -10]),
    x = f[0] - o[0],
    y = f[1] - o[1];
  if (Math.abs(y) >= Math.abs(x)) return y < 0 ? 0 : 2;
  return x < 0 ? 1 : 3;
}

// inPhoto is a direction of the screen in a photo that was turned by so many quarters clockwise.
export function inPhoto([x, y], quarters) {
  for (let i = 0; i < quarters; i++) [x, y] = [y, -x];
  return [x, y];
}

// onScreen is its reverse.
export const onScreen = (d, quarters) => inPhoto(d, (4 - quarters) % 4);

// pxPerMM is how many px a millimetre of the plane takes at a pixel, toward a direction of one px.
export function pxPerMM(planeFromImage, [x, y], [dx, dy]) {
  return 1 / distance(project(planeFromImage, [x, y]), project(planeFromImage, [x + dx, y + dy]));
}

// cardCorners are a card's corners, lying level with its middle at a place; ratio is its long side over its
// short one.
export function cardCorners([x, y], long, ratio) {
  const w = long / 2,
    h = long / ratio / 2;
  return [
    [x - w, y - h],
    [x + w, y - h],
    [x + w, y + h],
    [x - w, y + h],
  ];
}

// within keeps a point in the picture.
export const within = ([x, y], width, height) => [
  Math.min(width - 1, Math.max(0, x)),
  Math.min(height - 1, Math.max(0, y)),
];

// chi95 is the 95 % quantile of chi-square with two degrees of freedom: -2 ln 0.05.
const chi95 = -2 * Math.log(0.05);

// region95 is the outline, in the picture, of where a dent lies with 95 %: plane_mm and cov_mm2 (xx, xy,
// yy).
export function region95(dent, imageFromPlane, steps = 40) {
  const [xx, xy, yy] = dent.cov_mm2,
    mean = (xx + yy) / 2,
    half = Math.hypot((xx - yy) / 2, xy);
  const turn = Math.atan2(2 * xy, xx - yy) / 2;
  const p = Math.sqrt(chi95 * (mean + half)),
    q = Math.sqrt(chi95 * Math.max(0, mean - half));
  const points = [];
  for (let i = 0; i < steps; i++) {
    const t = (2 * Math.PI * i) / steps,
      x = p * Math.cos(t),
      y = q * Math.sin(t);
    points.push(
      project(imageFromPlane, [
        dent.plane_mm[0] + x * Math.cos(turn) - y * Math.sin(turn),
        dent.plane_mm[1] + x * Math.sin(turn) + y * Math.cos(turn),
      ]),
    );
  }
  return points;
}
