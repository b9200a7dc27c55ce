// What part of a turned picture is shown. Places are px of the picture as it is turned, from its middle;
// a view is the place in the middle of the stage, and how many times as large as the whole it is shown.
// It knows no page, so that its tests need none.

// most is how many times as large as the whole a picture can be shown.
export const most = 16;

export const whole = {x: 0, y: 0, times: 1};

// turned is a picture's size as it is turned by so many quarters.
export const turned = (width, height, quarters) => (quarters % 2 ? [height, width] : [width, height]);

// frameOf is the least rectangle of the stage's shape, width over height, that holds all of a picture.
export function frameOf([w, h], shape) {
  return w / h > shape ? [w, w / shape] : [h * shape, h];
}

// held keeps a view on its picture: where all of an axis is seen, in the middle.
export function held({x, y, times}, size, frame) {
  const t = Math.min(most, Math.max(1, times));
  const [a, b] = [x, y].map((v, i) => {
    const room = Math.max(0, (size[i] - frame[i] / t) / 2);
    return Math.min(room, Math.max(-room, v));
  });
  return {x: a, y: b, times: t};
}

// zoomed shows a picture so many times larger, with a place staying where it is on the screen.
export function zoomed(view, by, [px, py], size, frame) {
  const times = Math.min(most, Math.max(1, view.times * by)),
    f = view.times / times;
  return held({x: px + (view.x - px) * f, y: py + (view.y - py) * f, times}, size, frame);
}

// moved shifts the picture by px of itself.
export const moved = (view, [dx, dy], size, frame) =>
  held({...view, x: view.x - dx, y: view.y - dy}, size, frame);

// round shows two places with room about them.
export function round([ax, ay], [bx, by], size, frame) {
  const span = 1.7 * Math.hypot(ax - bx, ay - by);
  const times = span > 0 ? Math.min(frame[0], frame[1] * 1.4) / span : 1;
  return held({x: (ax + bx) / 2, y: (ay + by) / 2, times}, size, frame);
}

// boxOf is the view as an SVG's viewBox about a middle.
export function boxOf({x, y, times}, frame, [mx, my]) {
  const [w, h] = [frame[0] / times, frame[1] / times];
  return [mx + x - w / 2, my + y - h / 2, w, h];
}
