"""Bells: each dent a smooth oblong hump turned upside down, in a broad basin.

Lengths in mm, angles in rad.
"""
import numpy as np

from surface import along


def bell(x, y, at, angle, widths, power):
    """A dent of depth 1 at a point; a higher power makes its bottom flatter.

    widths (mm) are along and across the angle (rad).

    >>> float(bell(np.array(3.0), np.array(4.0), (3, 4), 0.3, (20, 14), 2.4))
    1.0
    """
    u, v = along(x, y, at, angle)
    return np.exp(-0.5 * np.hypot(u / widths[0], v / widths[1]) ** power)


def places(rng):
    """Where two dents lie: x, y of the left and of the right one."""
    half, yaw = np.clip(rng.normal(122, 17), 84, 166) / 2, np.radians(rng.normal(0, 3))
    x, y = rng.normal(0, 6), rng.normal(2, 7)
    return [
        (x + side * half * np.cos(yaw), y + side * half * np.sin(yaw) + rng.normal(0, 2)) for side in (-1, 1)
    ]


def imprint(rng, grid, deepest):
    """Depth (mm) of two bells in a basin, at most about so deep at their bottoms."""
    x, y = grid.mesh()
    basin, dent = rng.uniform(0.1, 0.4), rng.uniform(0.45, 0.6)
    basin_widths, toe = (rng.uniform(42, 62), rng.uniform(38, 58)), np.radians(rng.uniform(8, 35))
    widths, power, uneven = (
        (rng.uniform(15, 23), rng.uniform(11, 16)),
        rng.uniform(1.9, 2.8),
        rng.uniform(0.75, 1),
    )
    depth = np.zeros_like(x)
    for side, at in zip((-1, 1), places(rng)):
        middle = (at[0] + side * rng.uniform(2, 14), at[1] + rng.uniform(-4, 10))
        depth += basin * bell(x, y, middle, 0.0, basin_widths, 2)
        depth += dent * (uneven if side > 0 else 1) * bell(x, y, at, np.pi / 2 - side * toe, widths, power)
    return depth * deepest
