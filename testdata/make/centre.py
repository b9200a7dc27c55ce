"""The measurand: the two deepest points of an imprint, one on either side.  Lengths in mm, axes the frame's.

A point is the top of the quadratic surface fitted over +-4 mm around the deepest sample, after smoothing at
the millimetre scale.
"""
from dataclasses import dataclass

import numpy as np

from surface import smooth

REACH = 4.0  # mm around the deepest sample that the quadratic is fitted over
WINDOW = (104.0, 66.0)  # mm: a deepest point lies within |x| and |y| of this


class NoCentre(ValueError):
    """The surface has no deepest point of its own on one side."""


@dataclass(frozen=True)
class Point:
    """A deepest point: x, y and the depth (mm) below the pad's flat surface."""

    x: float
    y: float
    depth: float


def middle(field, grid):
    """x (mm) that parts left from right: the middle of the profile of each column's deepest sample."""
    profile = np.maximum(field[np.abs(grid.y) < 60].max(0), 0)
    return float((grid.x * profile).sum() / profile.sum())


def refine(field, grid, row, column):
    """The top of the quadratic through the samples within REACH of one sample.

    NoCentre where it has none there.
    """
    n = int(REACH / grid.step)
    rows, columns = slice(row - n, row + n + 1), slice(column - n, column + n + 1)
    x, y = np.meshgrid(grid.x[columns] - grid.x[column], grid.y[rows] - grid.y[row])
    x, y, z = x.ravel(), y.ravel(), field[rows, columns].ravel()
    terms = np.stack([x * x, y * y, x * y, x, y, np.ones_like(x)], -1)
    a, b, c, d, e, f = np.linalg.lstsq(terms, z, rcond=None)[0]
    if a >= 0 or 4 * a * b - c * c <= 0:
        raise NoCentre("the bottom is no bowl")
    dx, dy = np.linalg.solve([[2 * a, c], [c, 2 * b]], [-d, -e])
    if max(abs(dx), abs(dy)) > REACH:
        raise NoCentre("the bottom lies beyond the samples around it")
    return Point(float(grid.x[column] + dx), float(grid.y[row] + dy), float(field[row, column]))


def deepest(depth, grid):
    """The left and the right deepest point of a depth field (mm, positive down).

    >>> from surface import PAD
    >>> x, y = PAD.mesh()
    >>> d = sum(9 * np.exp(-((x - s * 61.3) ** 2 + (y - 2.2) ** 2) / 600) for s in (-1, 1))
    >>> left, right = deepest(d, PAD)
    >>> [round(v, 2) for v in (left.x, left.y, right.x, right.y)]
    [-61.3, 2.2, 61.3, 2.2]
    >>> deepest(0.01 * x, PAD)
    Traceback (most recent call last):
    ...
    centre.NoCentre: no deepest point inside the window on the left
    """
    field = smooth(depth, 1.0, grid.step)
    x, y = grid.mesh()
    parting = middle(field, grid)
    found = []
    for side, name in ((-1, "left"), (1, "right")):
        allowed = ((x - parting) * side > 8) & (np.abs(x) < WINDOW[0]) & (np.abs(y) < WINDOW[1])
        row, column = np.unravel_index(np.where(allowed, field, -np.inf).argmax(), field.shape)
        around = field[row - 1 : row + 2, column - 1 : column + 2]
        if field[row, column] < around.max() or not allowed[row - 8 : row + 9, column - 8 : column + 9].all():
            raise NoCentre(f"no deepest point inside the window on the {name}")
        found.append(refine(field, grid, row, column))
    return found


def only(depth, grid):
    """The deepest point of a depth field (mm, positive down) with one dent."""
    field = smooth(depth, 1.0, grid.step)
    row, column = np.unravel_index(field.argmax(), field.shape)
    return refine(field, grid, row, column)


def spacing(left, right):
    """The horizontal distance (mm) of two points."""
    return float(np.hypot(right.x - left.x, right.y - left.y))
