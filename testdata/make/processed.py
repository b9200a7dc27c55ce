#!/usr/bin/python3
"""Makes a set's photos anew as phones and messengers change them.   processed.py SET OUT [--kinds NAME...]

Writes OUT/SET-KIND for each of KINDS, or those named, with its truth.jsonl.  The photos keep their EXIF as
it was.  True pixels are left out, since one kind changes the size.  A photo that a phone processed is
processed twice.
"""
import argparse
import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

import phone

PIXEL_KEYS = ("left_px", "right_px", "pixels_are", "focal_px", "principal_px", "lens_k", "lens_p", "size")


@dataclass(frozen=True)
class Change:
    """What is done to a picture, in this order; radii in px of the picture as it is saved."""

    width: int = 0  # px of the longer side, 0 as it was
    denoise: bool = False
    lift: float = 0.0  # of shadows, over a thirtieth of the longer side
    sharpen: float = 0.0  # unsharp mask: amount
    radius: float = 1.0  # and its Gaussian's sigma
    quality: int = 90  # of the JPEG file
    tone: str = ""  # another law of local tone, of OTHER_TONES


KINDS = {
    "sharp": Change(sharpen=1, radius=1, quality=90),
    "sharper": Change(sharpen=2, radius=2, quality=85),
    "messenger": Change(width=1600, sharpen=1, radius=1.2, quality=70),
    "lifted": Change(denoise=True, lift=0.4, sharpen=1.2, radius=1, quality=75),
}
# The same with other laws of local tone, over a 25th of the longer side.
OTHER_TONES = {
    name: Change(tone=name, sharpen=0.8, radius=1, quality=80)
    for name in ("light-power", "level-power", "guided")
}


def surroundings(grey, sigma):
    """A grey picture blurred over sigma px, worked out on a smaller one."""
    step = max(1, int(sigma / 6))
    rows, columns = grey.shape
    small = cv2.resize(grey, (max(2, columns // step), max(2, rows // step)), interpolation=cv2.INTER_AREA)
    blurred = cv2.GaussianBlur(small, (0, 0), sigma / step)
    return cv2.resize(blurred, (columns, rows), interpolation=cv2.INTER_CUBIC)


def edge_preserving(grey, radius, contrast=0.02):
    """A grey picture smoothed within its edges: linear in itself over each square, by least squares."""
    step = 4
    rows, columns = grey.shape
    small = cv2.resize(grey, (columns // step, rows // step), interpolation=cv2.INTER_AREA)
    square = (2 * (radius // step) + 1,) * 2
    mean = cv2.boxFilter(small, -1, square)
    variance = cv2.boxFilter(small * small, -1, square) - mean * mean
    slope = variance / (variance + contrast)
    slope, offset = cv2.boxFilter(slope, -1, square), cv2.boxFilter(mean * (1 - slope), -1, square)
    return cv2.resize(slope, (columns, rows)) * grey + cv2.resize(offset, (columns, rows))


def toned(picture, law):
    """The picture by another law: light or levels times a power of the surroundings', or levels drawn toward
    the middle by surroundings that keep their edges.

    >>> grey = np.full((50, 100, 3), 0.25, np.float32)
    >>> [round(float(toned(grey, law)[0, 0, 0]), 3) for law in OTHER_TONES]
    [0.317, 0.308, 0.338]
    """
    grey, sigma = picture.mean(-1), max(picture.shape[:2]) / 25
    if law == "light-power":
        light = surroundings(phone.linear(grey), sigma)
        return phone.encoded(phone.linear(picture) * (np.maximum(light, 0.004) / 0.2)[..., None] ** -0.35)
    if law == "level-power":
        return picture * (np.maximum(surroundings(grey, sigma), 0.03) / 0.5)[..., None] ** -0.3
    return picture + (0.35 * (0.5 - edge_preserving(grey, int(sigma))))[..., None]


def changed(picture, change):
    """The picture (sRGB, 0 to 1) after the change.

    >>> grey = np.full((30, 60, 3), 0.25, np.float32)
    >>> float(changed(grey, KINDS["sharper"]).max())
    0.25
    >>> changed(grey, Change(width=30)).shape
    (15, 30, 3)
    >>> bool(abs(changed(grey, Change(lift=0.4))[0, 0, 0] - 0.3) < 1e-6)
    True
    """
    if change.width:
        part = change.width / max(picture.shape[:2])
        picture = cv2.resize(picture, None, fx=part, fy=part, interpolation=cv2.INTER_AREA)
    if change.denoise:
        picture = cv2.bilateralFilter(picture, 7, 0.04, 3)
    if change.lift:
        around = cv2.GaussianBlur(picture.mean(-1), (0, 0), max(picture.shape[:2]) / 30)
        picture = np.clip(picture + (change.lift * 0.5 * (0.5 - around))[..., None], 0, 1)
    if change.tone:
        picture = np.clip(toned(picture, change.tone), 0, 1)
    if change.sharpen:
        picture = picture + change.sharpen * (picture - cv2.GaussianBlur(picture, (0, 0), change.radius))
    return np.clip(picture, 0, 1)


def app1_of(jpeg):
    """The file's EXIF segment, or nothing.

    >>> app1_of(b"\\xff\\xd8\\xff\\xe1\\0\\x0aExif\\0\\0ab\\xff\\xda")
    b'\\xff\\xe1\\x00\\nExif\\x00\\x00ab'
    """
    at = jpeg.find(b"Exif\0\0", 0, 4096) - 4
    return jpeg[at : at + 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")] if at >= 0 else b""


def make(source, target, change):
    """Writes one photo anew; it is turned as it was."""
    stored = cv2.imread(str(source), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    picture = phone.bytes_of(changed(stored.astype(np.float32) / 255, change))
    jpeg = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, change.quality])[1].tobytes()
    target.write_bytes(jpeg[:2] + app1_of(source.read_bytes()) + jpeg[2:])


def main():
    """Reads the command line and makes the sets."""
    kinds = KINDS | OTHER_TONES
    parser = argparse.ArgumentParser(description="Makes a set's photos anew as phones change them.")
    parser.add_argument("set", type=Path, help="folder of photos with truth.jsonl")
    parser.add_argument("out", type=Path, help="folder for the new sets")
    parser.add_argument("--kinds", nargs="+", choices=kinds, default=list(KINDS), metavar="NAME")
    options = parser.parse_args()
    truths = [json.loads(line) for line in (options.set / "truth.jsonl").read_text("utf-8").splitlines()]
    for kind in options.kinds:
        folder = options.out / f"{options.set.name}-{kind}"
        folder.mkdir(parents=True, exist_ok=True)
        for truth in truths:
            make(options.set / truth["name"], folder / truth["name"], kinds[kind])
        kept = [{k: v for k, v in truth.items() if k not in PIXEL_KEYS} for truth in truths]
        (folder / "truth.jsonl").write_text("".join(json.dumps(k) + "\n" for k in kept), "utf-8")


if __name__ == "__main__":
    main()
