"""Balls pressed into a pad.  The surface follows a ball where they touch, and falls off softly beyond.

Around the touching disc of radius a the surface rises as exp(-(r - a) / flank), which is what a skin in
tension over a springy bed does.  a is where that meets the ball with the same slope.  Lengths in mm.
"""
import numpy as np


def contact_radius(radius, sink, flank):
    """Radius (mm) of the disc where a ball, sunk by sink (mm, less than its radius), touches the pad.

    The flank's slope there, depth / flank, equals the ball's, a / sqrt(radius^2 - a^2).  By bisection.

    >>> a = contact_radius(30.0, 8.0, 6.0); rim = (30.0 ** 2 - a ** 2) ** 0.5
    >>> bool(abs((8.0 - 30.0 + rim) / 6.0 - a / rim) < 1e-6)
    True
    """
    low, high = 0.0, np.sqrt(radius**2 - (radius - sink) ** 2)
    for _ in range(60):
        a = (low + high) / 2
        rim = np.sqrt(radius**2 - a**2)
        low, high = (a, high) if (sink - radius + rim) / flank > a / rim else (low, a)
    return (low + high) / 2


def depth_of(x, y, at, radius, sink, flank):
    """Depth (mm) of the pad under a ball whose lowest point is at, sink (mm) below the flat surface.

    >>> x = np.array([0.0, 5.0]); y = np.zeros(2)
    >>> d = depth_of(x, y, (0, 0), 30.0, 8.0, 6.0)
    >>> float(d[0]), bool(abs(d[1] - (8 - 30 + (30 ** 2 - 25) ** 0.5)) < 1e-9)
    (8.0, True)
    """
    a = contact_radius(radius, sink, flank)
    r = np.hypot(x - at[0], y - at[1])
    rim = sink - radius + np.sqrt(radius**2 - a**2)
    cap = sink - radius + np.sqrt(np.maximum(radius**2 - np.minimum(r, a) ** 2, 0))
    return np.where(r < a, cap, rim * np.exp(-np.maximum(r - a, 0) / flank))


def imprint(rng, grid, deepest, places):
    """Depth (mm) of two balls at the places, the deeper one sunk by deepest."""
    x, y = grid.mesh()
    flank, uneven = rng.uniform(3, 14), rng.permutation([1.0, rng.uniform(0.7, 1)])
    radii = rng.uniform(18, 65) * np.array([1.0, 1.0 if rng.random() < 0.5 else rng.uniform(0.8, 1.25)])
    radii = np.maximum(radii, deepest + 2)
    return np.maximum(
        *[
            depth_of(x, y, at, radius, deepest * part, flank)
            for at, radius, part in zip(places, radii, uneven)
        ]
    )


def one(rng, grid, thickness):
    """Depth (mm) of a single ball pressed into a pad so thick, and its data."""
    x, y = grid.mesh()
    radius = float(rng.choice([15.0, 20.0, 25.0, 30.0]))
    sink = rng.uniform(0.35, 0.7) * min(thickness, 24.0, 1.3 * radius)
    at = rng.uniform(-60, 60), rng.normal(0, 10)
    return depth_of(x, y, at, radius, sink, rng.uniform(3, 12)), {"ball_diameter_mm": 2 * radius}


def unequal(rng, grid, thickness):
    """Depth (mm) of two unequal balls under a batten, and their data; the larger one on either side.

    A hand lets the batten lean, so the larger ball goes deeper by less than the diameters differ.
    """
    x, y = grid.mesh()
    small, distance = float(rng.choice([15.0, 20.0])), float(rng.uniform(100, 140))
    large = small * rng.uniform(1.3, 1.9)
    sink = rng.uniform(0.35, 0.5) * min(thickness, 24.0)
    deeper = rng.uniform(0, 0.3) * 2 * (large - small)
    middle, flank = rng.normal(0, 5, 2), rng.uniform(3, 12)
    radii, sinks = (small, large), (sink, sink + deeper)
    sides = rng.permutation([-1, 1])
    places = [middle + side * np.array([distance / 2, 0]) for side in sides]
    depth = np.maximum(
        *[depth_of(x, y, at, radius, down, flank) for at, radius, down in zip(places, radii, sinks)]
    )
    return depth, {"ball_diameters_mm": [2 * small, 2 * large], "ball_distance_mm": distance}


def batten(rng, grid, thickness):
    """Depth (mm) of two equal balls under a batten pressed into a pad so thick, and the balls' data.

    The pad follows each ball where they touch.  The balls' distance is horizontal: a batten that leans brings
    their lowest points nearer to each other by the cosine of its lean.
    """
    x, y = grid.mesh()
    radius, distance = float(rng.choice([15.0, 20.0, 25.0, 30.0, 40.0])), float(rng.uniform(90, 160))
    sink = rng.uniform(0.35, 0.7) * min(thickness, 24.0, 1.3 * radius)
    lean, yaw, middle = rng.normal(0, 0.01), np.radians(rng.normal(0, 3)), rng.normal(0, 5, 2)
    flank, apart = rng.uniform(3, 12), distance * np.cos(lean)
    halves = [side * apart / 2 * np.array([np.cos(yaw), np.sin(yaw)]) for side in (-1, 1)]
    depth = np.maximum(
        *[
            depth_of(x, y, middle + half, radius, sink + side * np.sin(lean) * distance / 2, flank)
            for side, half in zip((-1, 1), halves)
        ]
    )
    return depth, {"ball_diameter_mm": 2 * radius, "ball_distance_mm": float(apart)}
