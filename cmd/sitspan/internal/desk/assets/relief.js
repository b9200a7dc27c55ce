// Makes a shallow relief visible: the light's slope is taken out, and what is left is spread over all greys.
// It knows no page, so that its tests need none.

// strongest is how many times contrast is raised at most: beyond it there is grain only.
const strongest = 12;

// levelled takes out the plane that fits an n by n picture's greys best.
export function levelled(greys, n) {
  const m = (n - 1) / 2;
  let mean = 0,
    sx = 0,
    sy = 0,
    ss = 0;
  for (let i = 0; i < n * n; i++) {
    const x = (i % n) - m,
      y = Math.floor(i / n) - m;
    mean += greys[i] / (n * n);
    sx += greys[i] * x;
    sy += greys[i] * y;
    ss += x * x;
  }
  const out = new Float32Array(n * n);
  for (let i = 0; i < n * n; i++) {
    const x = (i % n) - m,
      y = Math.floor(i / n) - m;
    out[i] = greys[i] - mean - (sx * x + sy * y) / ss;
  }
  return out;
}

// stretched spreads values from the first to the 99th per cent over 0 to 255.
export function stretched(values) {
  const sorted = Float32Array.from(values).sort(),
    at = p => sorted[Math.round(p * (sorted.length - 1))];
  const low = at(0.01),
    high = at(0.99),
    gain = Math.min(strongest, 255 / Math.max(high - low, 1e-6));
  const middle = (low + high) / 2;
  return Uint8ClampedArray.from(values, v => 127.5 + gain * (v - middle));
}

// sampled are the greys of a square of a picture (RGBA), n by n, of 2 r px about a place, turned with the
// picture by so many quarters clockwise. Beyond the picture its edge goes on.
export function sampled({data, width, height}, [cx, cy], r, n, quarters) {
  const greys = new Float32Array(n * n),
    turn = [
      [1, 0, 0, 1],
      [0, 1, -1, 0],
      [-1, 0, 0, -1],
      [0, -1, 1, 0],
    ][quarters % 4];
  for (let i = 0; i < n * n; i++) {
    const u = (((i % n) + 0.5) / n - 0.5) * 2 * r,
      v = ((Math.floor(i / n) + 0.5) / n - 0.5) * 2 * r;
    const x = Math.min(width - 1, Math.max(0, Math.round(cx + turn[0] * u + turn[1] * v))),
      y = Math.min(height - 1, Math.max(0, Math.round(cy + turn[2] * u + turn[3] * v))),
      k = 4 * (y * width + x);
    greys[i] = 0.2126 * data[k] + 0.7152 * data[k + 1] + 0.0722 * data[k + 2];
  }
  return greys;
}
