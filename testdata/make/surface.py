"""Grids and smooth fields.  Axes are the frame's: x right, y DOWN (front edge up); lengths in mm."""
from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Grid:
    """Points (x[i], y[j]) in mm, step mm apart; a field on it has shape (len(y), len(x))."""

    x: np.ndarray
    y: np.ndarray
    step: float

    def mesh(self):
        """x and y (mm) of every point, each of shape (len(y), len(x))."""
        return np.meshgrid(self.x, self.y)


def grid(half_x, half_y, step):
    """The grid over |x| <= half_x, |y| <= half_y (mm).

    >>> g = grid(10, 6, 2)
    >>> len(g.x), len(g.y), float(g.x[0]), float(g.y[-1])
    (11, 7, -10.0, 6.0)
    """
    return Grid(
        np.arange(-half_x, half_x + step / 2, step), np.arange(-half_y, half_y + step / 2, step), step
    )


PAD = grid(210, 165, 0.5)  # the pad and the table around it, as rendered
LOAD = grid(210, 165, 3.0)  # the same ground, coarse: enough to sum a load over
HEIGHTS = grid(104, 68, 2.0)  # the frame's window, as written to heights-NNN.csv


def smooth(field, sigma, step):
    """The field after a Gaussian of standard deviation sigma (mm).

    The edge's value goes on beyond the edge.
    """
    if sigma < step / 4:
        return field
    coarse = max(1, int(sigma / step / 4))
    if coarse == 1:
        return cv2.GaussianBlur(field, (0, 0), sigma / step, borderType=cv2.BORDER_REPLICATE)
    rows, columns = field.shape
    small = cv2.resize(field, (columns // coarse, rows // coarse), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma / step / coarse, borderType=cv2.BORDER_REPLICATE)
    return cv2.resize(small, (columns, rows), interpolation=cv2.INTER_CUBIC)


def unevenness(rng, shape, sigma):
    """A random field of mean 0 and standard deviation 1 that changes over about sigma samples."""
    coarse = max(1.0, sigma / 4)
    small = [max(8, int(np.ceil(n / coarse)) + 2) for n in shape]
    noise = cv2.GaussianBlur(rng.standard_normal(small), (0, 0), min(sigma, 4.0))
    noise = cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return (noise - noise.mean()) / noise.std()


def bowl(distance, radius, slope):
    """Height (mm) of a bowl's wall: radius (mm) of curvature at the bottom, then ever closer to the slope.

    >>> round(float(bowl(1.0, 50.0, 0.8)), 4)      # x^2 / 2R near the bottom
    0.01
    >>> h = bowl(np.array([1000.0, 1001.0]), 50.0, 0.8); round(float(h[1] - h[0]), 2)
    0.8
    """
    reach = slope * radius
    return slope * (np.sqrt(distance**2 + reach**2) - reach)


def smooth_minimum(fields, width):
    """The lowest of the fields, rounded over about width (mm) where two are alike; never above the lowest.

    >>> float(smooth_minimum([np.array(0.0), np.array(100.0)], 2.0))
    0.0
    """
    lowest = np.minimum.reduce(fields)
    return lowest - width * np.log(sum(np.exp((lowest - f) / width) for f in fields))


def along(x, y, at, angle):
    """Coordinates (mm) in axes turned by angle (rad, clockwise as seen) about the point at: along and across.

    >>> [round(float(v), 6) for v in along(np.array(3.0), np.array(4.0), (0, 0), np.pi / 2)]
    [4.0, -3.0]
    """
    dx, dy = x - at[0], y - at[1]
    return dx * np.cos(angle) + dy * np.sin(angle), -dx * np.sin(angle) + dy * np.cos(angle)
