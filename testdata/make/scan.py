"""Pressure marks of bodies on marking paper, scanned flat.  Lengths in mm, pressures in kPa."""
import cv2
import numpy as np

import body
import centre
import exif
import frame
import marks
from surface import PAD, smooth, unevenness

SHEET_DPI = 300
TINTS = [
    (0.35, 0.30, 0.32),
    (0.55, 0.20, 0.30),
    (0.20, 0.25, 0.55),
    (0.15, 0.15, 0.15),
]  # blue, green, red at full density
PAPERS = [(0.93, 0.95, 0.96), (0.93, 0.95, 0.96), (0.80, 0.90, 0.95)]
MARGIN = 15.0  # mm of the scanner's lid around the sheet
PRESSED, INKED, SCANNED = range(20, 23)  # streams of a scan


def pressing(rng):
    """A body's pressure (kPa) on paper over a thin firm mat, and its two places of highest pressure."""
    for _ in range(200):
        thickness, modulus = rng.uniform(3, 12), rng.uniform(30, 250)
        _, pressure = body.press(body.draw(rng), thickness, modulus, PAD)
        pressure = smooth(pressure, rng.uniform(2.5, 6), PAD.step)
        try:
            left, right = centre.deepest(pressure, PAD)
        except centre.NoCentre:
            continue
        shallow = min(left.depth, right.depth) / max(left.depth, right.depth)
        inside = all(abs(p.x) < 98 and abs(p.y) < 62 for p in (left, right))
        if shallow > 0.35 and inside and 75 < centre.spacing(left, right) < 185:
            return pressure / max(left.depth, right.depth), left, right
    raise centre.NoCentre("200 draws had no two places of highest pressure")


def density(rng, pressure):
    """The ink's density, 0 to 1, where the pressure (1 at its highest) bore on the sheet.

    It saturates, and has grain.
    """
    above = np.clip(pressure - rng.uniform(0.08, 0.25), 0, None)
    above = above / above.max()
    shape = above.shape
    grain = (
        unevenness(rng, shape, rng.uniform(2, 5)) * 0.10
        + rng.standard_normal(shape) * 0.10
        + unevenness(rng, shape, 30) * 0.05
    )
    ink = np.tanh(rng.uniform(1, 2.4) * above ** rng.uniform(0.7, 1.5)) + grain * np.clip(above * 4, 0.1, 1)
    return cv2.GaussianBlur(np.clip(ink, 0, 1).astype(np.float32), (0, 0), 1.5)


def printed_sheet(pressure, inking):
    """The frame's print (1 white) and the ink's density on it, rows from the front, SHEET_DPI.

    inking gives the density under a pressure.
    """
    printed = frame.draw(SHEET_DPI)
    rows, columns = printed.shape
    scale = SHEET_DPI / 25.4
    x = (np.arange(columns) + 0.5) / scale - frame.OUTER[0] / 2
    y = (np.arange(rows) + 0.5) / scale - frame.OUTER[1] / 2
    at = np.meshgrid(
        ((x - PAD.x[0]) / PAD.step).astype(np.float32), ((y - PAD.y[0]) / PAD.step).astype(np.float32)
    )
    ink = inking(cv2.remap(pressure.astype(np.float32), *at, cv2.INTER_LINEAR))
    return printed[..., None] / 255.0, ink, x, y


def dyed(rng, white, ink):
    """The sheet in grey bytes, its paper and ink of some colour."""
    paper, tint = np.array(PAPERS[rng.integers(len(PAPERS))]), np.array(TINTS[rng.integers(len(TINTS))])
    colour = (paper * white + 0.06 * (1 - white)) * (1 - ink[..., None] * (1 - tint))
    return cv2.cvtColor((np.clip(colour, 0, 1) * 255).astype(np.uint8), cv2.COLOR_BGR2GRAY)


def windowed(ink, x, y):
    """The ink within the frame's window."""
    ink[:, np.abs(x) > frame.WINDOW[0] / 2] = 0
    ink[np.abs(y) > frame.WINDOW[1] / 2] = 0
    return ink


def sheet(rng, pressure):
    """The marked sheet with the frame's print, grey bytes, rows from the front, SHEET_DPI."""
    white, ink, x, y = printed_sheet(pressure, lambda p: density(rng, p))
    ink = windowed(ink, x, y)
    if rng.random() < 0.2:  # the rider slid
        ink = np.maximum(ink, 0.5 * np.roll(ink, int(rng.uniform(-4, 4) * SHEET_DPI / 25.4), 1))
    return dyed(rng, white, ink)


def other_sheet(rng, pressure, bare):
    """Likewise by the laws of marks.py; a bare one has no print, and ink up to its sides."""
    paper = marks.paper(rng)
    white, ink, x, y = printed_sheet(pressure, lambda p: marks.density(rng, paper, p, SHEET_DPI / 25.4))
    if bare:
        return dyed(rng, np.ones_like(white), ink)
    return dyed(rng, white, windowed(ink, x, y))


def cut(marked, half):
    """The middle of a sheet, half x half mm to either side."""
    x0, y0 = ((np.array(frame.OUTER) / 2 - half) * SHEET_DPI / 25.4).astype(int)
    return marked[y0 : marked.shape[0] - y0, x0 : marked.shape[1] - x0]


def lay(rng, marked, half, resolutions, noise):
    """The scan of a sheet, its dpi, and a function from a point in the frame's axes (mm) to its pixels.

    noise is its standard deviation in grey levels.
    """
    dpi = int(rng.choice(resolutions))
    scale = dpi / 25.4
    size = np.round(2 * half * scale).astype(int)
    small = cv2.resize(marked, tuple(int(v) for v in size), interpolation=cv2.INTER_AREA)
    margin = int(MARGIN * scale)
    small = cv2.copyMakeBorder(small, margin, margin, margin, margin, cv2.BORDER_CONSTANT, value=238)
    turn = cv2.getRotationMatrix2D((small.shape[1] / 2, small.shape[0] / 2), rng.normal(0, 1.2), 1)
    scan = cv2.warpAffine(small, turn, small.shape[1::-1], borderValue=238)

    def pixel(point):
        flat = (np.array([point.x, point.y]) + half) * scale + margin - 0.5
        return (turn[:, :2] @ flat + turn[:, 2]).tolist()

    return np.clip(scan + rng.normal(0, noise, scan.shape), 0, 255).astype(np.uint8), dpi, pixel


def usual(job, bare):
    """A scan by this file's laws, and what make() needs of it."""
    pressure, left, right = pressing(job.rng(PRESSED))
    half = np.array(frame.WINDOW if bare else frame.OUTER) / 2
    marked = cut(sheet(job.rng(INKED), pressure), half)
    return *lay(job.rng(SCANNED), marked, half, (150, 200, 300), 2), left, right, 85


def other(job, bare):
    """Likewise by the laws of marks.py; a bare sheet is as large as the window or larger."""
    pressure, left, right = marks.pressing(job.rng(PRESSED))
    rng = job.rng(SCANNED)
    half = np.array(frame.OUTER) / 2
    if bare:
        window = np.array(frame.WINDOW) / 2
        half = window + rng.choice([0, rng.uniform(0, 1)]) * (half - window)
    marked = cut(other_sheet(job.rng(INKED), pressure, bare), half)
    scan, dpi, pixel = lay(rng, marked, half, (100, 150, 200, 300, 400), rng.uniform(0.5, 4))
    return scan, dpi, pixel, left, right, int(rng.integers(70, 96))


def make(job):
    """Makes the scan and answers with its line of truth.jsonl.

    Every other one is cut to the frame's window.
    """
    bare = job.number % 2 == 1
    draw = other if job.chosen.other_marks else usual
    scan, dpi, pixel, left, right, quality = draw(job, bare)
    encoded = cv2.imencode(".jpg", scan, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
    (job.folder / f"{job.name}.jpg").write_bytes(exif.with_resolution(encoded, dpi))
    return {
        "name": job.name + ".jpg",
        "imprint": job.number,
        "kind": "scan",
        "shape": "body",
        "extras": [],
        "depth_mm": [0, 0],
        "left": [left.x, left.y],
        "right": [right.x, right.y],
        "spacing_mm": centre.spacing(left, right),
        "frame": not bare,
        "dpi": dpi,
        "size": list(scan.shape[1::-1]),
        "left_px": pixel(left),
        "right_px": pixel(right),
    }
