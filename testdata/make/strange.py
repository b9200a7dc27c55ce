#!/usr/bin/python3
"""Makes photos of a set anew as if strange lenses had taken them.   strange.py SET OUT [--imprints N...]

Each photo is bent about its middle, as a lens bends what it shows, and saved with its EXIF as it was: the
file states the focal length of the lens that it had.  OUT/LENS has a truth.jsonl; true pixels are left out.
A photo is resampled and saved a second time, so that it is a little softer than a rendered one.
"""
import argparse
import json
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

import exif

PIXEL_KEYS = ("left_px", "right_px", "pixels_are", "focal_px", "principal_px", "lens_k")


@dataclass(frozen=True)
class Lens:
    """What is bent: lengths in half the picture's diagonal, in the axes of the stored picture."""

    k1: float = 0.0  # radial terms about the axis
    k2: float = 0.0
    k3: float = 0.0
    p1: float = 0.0  # decentring terms, as cv2 names them
    p2: float = 0.0
    axis: tuple = (0.0, 0.0)  # from the picture's middle
    zoom: float = 1.0  # all of the picture, as an add-on lens makes it
    squeeze: float = 0.0  # of the sides across, relative
    shear: float = 0.0  # a shutter that rolls while the phone moves
    bump: float = 0.0  # a flaw of the glass: what it moves at most, at one place
    bump_at: tuple = (0.25, 0.1)
    bump_width: float = 0.15  # its Gaussian's sigma

    def bend(self, x, y):
        """Where what was at (x, y) is shown."""
        x, y = x - self.axis[0], y - self.axis[1]
        r2 = x * x + y * y
        gain = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        u = x * gain + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x)
        v = y * gain + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y
        if self.bump:
            off = (x - self.bump_at[0]) ** 2 + (y - self.bump_at[1]) ** 2
            u = u + self.bump * np.exp(-off / (2 * self.bump_width**2))
        u = u * (1 + self.squeeze) + self.shear * v
        return self.zoom * u + self.axis[0], self.zoom * v + self.axis[1]

    def straighten(self, u, v):
        """What is shown at (u, v).

        >>> x, y = LENSES["wave"].straighten(*LENSES["wave"].bend(np.array(0.6), np.array(-0.5)))
        >>> bool(np.allclose([x, y], [0.6, -0.5], atol=1e-6))
        True
        """
        x, y = u / self.zoom, v / self.zoom
        for _ in range(80):  # half steps: whole ones run away at a rim that bends back
            at_u, at_v = self.bend(x, y)
            x, y = x - (at_u - u) / (2 * self.zoom), y - (at_v - v) / (2 * self.zoom)
        return x, y


LENSES = {
    "none": Lens(),  # what saving once more does by itself
    "barrel": Lens(k1=-0.10),
    "strong-barrel": Lens(k1=-0.20),
    "pincushion": Lens(k1=0.10, zoom=0.96),
    "strong-pincushion": Lens(k1=0.20, zoom=0.92),
    "wave": Lens(k1=-0.15, k2=0.12),
    "strong-wave": Lens(k1=-0.25, k2=0.25),
    "double-wave": Lens(k1=0.10, k2=-0.35, k3=0.25),
    "decentred": Lens(p1=0.003, p2=-0.002),
    "far-decentred": Lens(p1=0.010, p2=0.010),
    "off-axis": Lens(k1=-0.10, axis=(0.10, -0.06)),
    "add-on": Lens(k1=-0.05, zoom=0.8),
    "squeezed": Lens(squeeze=0.02),
    "sheared": Lens(shear=0.01),
    "flaw": Lens(bump=0.006),
    "strong-flaw": Lens(bump=0.015),
}


@lru_cache(2)
def places(lens, rows, columns):
    """The columns and the rows (px) that each pixel through the lens shows."""
    half = np.hypot(rows, columns) / 2
    column, row = np.meshgrid(np.arange(columns), np.arange(rows))
    middle = np.array([(columns - 1) / 2, (rows - 1) / 2])
    x, y = lens.straighten((column - middle[0]) / half, (row - middle[1]) / half)
    return (x * half + middle[0]).astype(np.float32), (y * half + middle[1]).astype(np.float32)


def through(picture, lens):
    """A picture as a lens shows it.

    >>> even = np.full((30, 40, 3), 7, np.uint8)
    >>> bool((through(even, LENSES["barrel"]) == 7).all())
    True
    """
    column, row = places(lens, *picture.shape[:2])
    return cv2.remap(picture, column, row, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)


def app1(jpeg):
    """The EXIF segment of a file of make_set.py: the first after the start of image."""
    if jpeg[2:4] != b"\xff\xe1":
        raise ValueError("no EXIF in front: needed is a photo that make_set.py made")
    return jpeg[2 : 4 + int.from_bytes(jpeg[4:6], "big")]


def make(source, truth, lens, out):
    """Bends one photo, and answers with its line of truth."""
    jpeg = (source / truth["name"]).read_bytes()
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    stored = cv2.imdecode(np.frombuffer(jpeg, np.uint8), flags)
    _, bent = cv2.imencode(".jpg", through(stored, lens), [cv2.IMWRITE_JPEG_QUALITY, 92])
    (out / truth["name"]).write_bytes(exif.with_exif(bent.tobytes(), app1(jpeg)))
    return {**{k: v for k, v in truth.items() if k not in PIXEL_KEYS}, "strange": asdict(lens)}


def main():
    """Makes what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--imprints", type=int, nargs="*")
    parser.add_argument("--lenses", nargs="*", choices=LENSES, default=list(LENSES))
    options = parser.parse_args()
    truths = [json.loads(line) for line in (options.set / "truth.jsonl").read_text("utf-8").splitlines()]
    if options.imprints is not None:
        truths = [truth for truth in truths if truth["imprint"] in options.imprints]
    for name in options.lenses:
        folder = options.out / name
        folder.mkdir(parents=True, exist_ok=True)
        lines = [make(options.set, truth, LENSES[name], folder) for truth in truths]
        (folder / "truth.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines), "utf-8")


if __name__ == "__main__":
    main()
