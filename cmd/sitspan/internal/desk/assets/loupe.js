// The magnifier: the place under a cross with its relief made visible, and the surface's contour lines where
// several photos gave them.
import {levelled, sampled, stretched} from "./relief.js";

const n = 220; // px across

// pixelsOf reads a picture's pixels, once; null where the browser gives none.
export function pixelsOf(src, then) {
  const img = new Image();
  img.onload = () => {
    const c = document.createElement("canvas");
    [c.width, c.height] = [img.naturalWidth, img.naturalHeight];
    const g = c.getContext("2d", {willReadFrequently: true});
    g.drawImage(img, 0, 0);
    then(g.getImageData(0, 0, c.width, c.height));
  };
  img.src = src;
}

// drawLoupe shows r px of the photo each way about a place; perPx is how many px of the pixels a px of the
// photo is.
export function drawLoupe(canvas, pixels, {at, r, quarter, perPx, lines}) {
  canvas.width = canvas.height = n;
  const g = canvas.getContext("2d");
  if (pixels) {
    const place = at.map(v => (v + 0.5) * perPx - 0.5);
    const greys = stretched(levelled(sampled(pixels, place, r * perPx, n, quarter), n));
    const out = g.createImageData(n, n);
    greys.forEach((v, i) => out.data.set([v, v, v, 255], 4 * i));
    g.putImageData(out, 0, 0);
  }
  g.save();
  g.translate(n / 2, n / 2);
  g.scale(n / (2 * r), n / (2 * r));
  g.rotate((Math.PI / 2) * quarter);
  g.translate(-at[0], -at[1]);
  for (const line of lines ?? []) {
    g.beginPath();
    for (const [x, y] of line.px) g.lineTo(x, y);
    const wide = line.strong ? 2.6 : 1.4;
    for (const [colour, width] of [["#101622", wide + 2.2], ["#66bdff", wide]]) {
      g.lineWidth = (width * 2 * r) / n;
      g.strokeStyle = colour;
      g.stroke();
    }
  }
  g.restore();
  for (const [colour, width] of [["#101622", 6], ["#ffd845", 2.4]]) cross(g, colour, width);
}

// cross leaves the middle free.
function cross(g, colour, width) {
  g.beginPath();
  for (const [x, y] of [[1, 0], [0, 1], [-1, 0], [0, -1]]) {
    g.moveTo(n / 2 + 8 * x, n / 2 + 8 * y);
    g.lineTo(n / 2 + 36 * x, n / 2 + 36 * y);
  }
  g.strokeStyle = colour;
  g.lineWidth = width;
  g.stroke();
}
