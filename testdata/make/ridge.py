"""Ridges: two long ischial edges under hardly any tissue, pressed into the pad like hard rails.

The foam follows the rail where they touch; its skin spreads the edge of the touching.  Lengths in mm, angles
in rad.
"""
import numpy as np

from surface import along, bowl, smooth


def rail(x, y, at, angle, along_radius, across_radius):
    """Height (mm) of a rail's underside above its lowest point.

    It bends up slowly along and sharply across.
    """
    u, v = along(x, y, at, angle)
    return bowl(u, along_radius, 0.7) + bowl(v, across_radius, 2.2)


def imprint(rng, grid, deepest, places):
    """Depth (mm) of two rails at the places; the deeper one's bottom lies at deepest."""
    x, y = grid.mesh()
    toe, along_radius = np.radians(rng.uniform(6, 40)), rng.uniform(60, 200)
    across_radius, spread, uneven = (
        rng.uniform(6, 18),
        rng.uniform(2, 6),
        rng.permutation([1.0, rng.uniform(0.75, 1)]),
    )
    depth = np.zeros_like(x)
    for side, at, part in zip((-1, 1), places, uneven):
        below = deepest * part - rail(x, y, at, -np.pi / 2 - side * toe, along_radius, across_radius)
        depth = np.maximum(depth, 1.5 * np.logaddexp(0, below / 1.5))
    depth = smooth(depth - depth.min(), spread, grid.step)
    return depth * deepest / depth.max()
