#!/usr/bin/python3
"""Prints where a set's photos show the corners of the frame's marks.   corners.py NAME > corners.jsonl

A line a photo: its name under the set's, and for each mark its four corners in px of the upright picture,
clockwise from the one at its top left.  TestStress in imprint/internal/cv reads it.  Nothing is rendered: the
cameras and the card's bow are drawn again from the set's seed.
"""
import json
import sys
from pathlib import Path

import numpy as np

import frame
import photo
from sets import SETS

MESH = 2.0  # mm between the card's points in the scene


def bowed(bow, x, y):
    """The card's height (mm) over its lowest, y up, at a point of its mesh."""
    return bow["height"] * (
        0.5 + 0.5 * np.sin(x / bow["x"] + bow["phase"]) * np.cos(y / bow["y"] + bow["phase"])
    )


def height(bow, x, y):
    """The same anywhere: between the mesh's points the card is straight.

    >>> bow = {"height": 0.8, "x": 50, "y": 60, "phase": 1}
    >>> bool(np.isclose(height(bow, 12.0, -8.0), bowed(bow, 12.0, -8.0)))
    True
    """
    left, low = MESH * np.floor(x / MESH), MESH * np.floor(y / MESH)
    u, v = (x - left) / MESH, (y - low) / MESH
    return (bowed(bow, left, low) * (1 - u) + bowed(bow, left + MESH, low) * u) * (1 - v) + (
        bowed(bow, left, low + MESH) * (1 - u) + bowed(bow, left + MESH, low + MESH) * u
    ) * v


def corners(job):
    """The photo's line."""
    held, bow, half = photo.hold(job), photo.lay_card(job), frame.MARK / 2
    marks = {}
    for number, (x, y) in enumerate(frame.CENTRES):
        around = [(x + dx, y + dy) for dx, dy in ((-half, -half), (half, -half), (half, half), (-half, half))]
        marks[str(number)] = [held.project(a, b, -photo.FRAME_Z - height(bow, a, -b)) for a, b in around]
    return {"name": f"{job.chosen.name}/{job.name}.jpg", "marks": marks}


if __name__ == "__main__":
    chosen = SETS[sys.argv[1]]
    for imprint in range(len(chosen.shapes)):
        for view in range(chosen.views):
            print(json.dumps(corners(photo.Job(chosen, imprint, view, Path(), Path()))))
