#!/usr/bin/python3
"""Draws photos of the frame alone, with their marks' true corners, for TestStress in imprint/internal/cv.

    drawn.py OUT [--dpi 711.2] [--photos 16]

OUT/photos/NNN.jpg and OUT/corners.jsonl, in the form of corners.py.  At 711.2 dots an inch, 28 a mm, every edge
of a mark's modules falls between two dots, so the print is as true as its drawing.  At 508, 20 a mm, as the
rendered sets are printed, the modules inside a mark stand up to 0.02 mm off.  Nothing is rendered: a plane is
seen by a camera without a lens's faults, blurred, with a sensor's noise, as a JPEG.
"""
import argparse
import json
from pathlib import Path

import cv2
import numpy as np

import frame

SIZE = (2016, 1512)  # px
FINER = 4  # a picture's px are means of so many squared
PAPER, INK, TABLE = 220, 20, 70  # grey levels
NOISE = 2.0  # grey levels, standard deviation
QUALITY = 92  # of the JPEG


def seen_from(rng, number):
    """The camera's 3 x 3 matrix from the frame's plane (mm) to the picture (px), some 0.2 mm a px."""
    focal = 3000.0 if number % 2 == 0 else 1500.0  # px
    tilt, towards = np.deg2rad(rng.uniform(0, 25)), rng.uniform(0, 2 * np.pi)
    lean = cv2.Rodrigues(tilt * np.array([np.cos(towards), np.sin(towards), 0]))[0]
    turn = cv2.Rodrigues(np.array([0, 0, rng.uniform(-0.2, 0.2)]))[0]
    place = [*rng.uniform(-5, 5, 2), 0.2 * focal * rng.uniform(0.85, 1.1)]  # mm
    inner = np.array([[focal, 0, SIZE[0] / 2], [0, focal, SIZE[1] / 2], [0, 0, 1]])
    return inner @ np.column_stack([(lean @ turn)[:, 0], (lean @ turn)[:, 1], place])


def photograph(rng, sheet, per_mm, camera):
    """The picture of a printed sheet."""
    from_dots = np.array(
        [
            [1 / per_mm, 0, 0.5 / per_mm - frame.OUTER[0] / 2],
            [0, 1 / per_mm, 0.5 / per_mm - frame.OUTER[1] / 2],
            [0, 0, 1],
        ]
    )
    finer = np.array([[FINER, 0, FINER / 2 - 0.5], [0, FINER, FINER / 2 - 0.5], [0, 0, 1]])
    grey = sheet.astype(np.float32) / 255 * (PAPER - INK) + INK
    large = (SIZE[0] * FINER, SIZE[1] * FINER)
    fine = cv2.warpPerspective(grey, finer @ camera @ from_dots, large, borderValue=TABLE)
    picture = fine.reshape(SIZE[1], FINER, SIZE[0], FINER).mean((1, 3))
    picture = cv2.GaussianBlur(picture, (0, 0), rng.uniform(0.5, 0.9))
    return np.clip(picture + rng.normal(0, NOISE, picture.shape), 0, 255).astype(np.uint8)


def corners(camera):
    """Each mark's corners in px, clockwise from the one at its top left.

    >>> corners(np.diag([5.0, 5.0, 1.0]))["0"][0]
    [-645.0, -465.0]
    """
    half, marks = frame.MARK / 2, {}
    for number, (x, y) in enumerate(frame.CENTRES):
        around = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
        points = [camera @ (a, b, 1) for a, b in around]
        marks[str(number)] = [[float(p[0] / p[2]), float(p[1] / p[2])] for p in points]
    return marks


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("out", type=Path)
    options.add_argument("--dpi", type=float, default=711.2)
    options.add_argument("--photos", type=int, default=16)
    chosen = options.parse_args()
    (chosen.out / "photos").mkdir(parents=True, exist_ok=True)
    printed = frame.draw(chosen.dpi)
    with open(chosen.out / "corners.jsonl", "w") as lines:
        for number in range(chosen.photos):
            random = np.random.default_rng([1512, number])
            view = seen_from(random, number)
            name = f"photos/{number:03d}.jpg"
            picture = photograph(random, printed, chosen.dpi / 25.4, view)
            cv2.imwrite(str(chosen.out / name), picture, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
            lines.write(json.dumps({"name": name, "marks": corners(view)}) + "\n")
