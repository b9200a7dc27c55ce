"""What clothes and the room press into a pad beside the body: weave, seams, a finger.  Depths in mm."""
import numpy as np

from surface import along, unevenness


def weave(rng, grid, pressing):
    """Depth (mm) of a cloth's weave where it was pressed; pressing runs from 0 to 1."""
    x, y = grid.mesh()
    u, v = along(x, y, (0, 0), rng.uniform(-0.4, 0.4))
    pitch = rng.uniform(1.6, 3.2)
    return rng.uniform(0.03, 0.16) * pressing * np.cos(2 * np.pi * u / pitch) * np.cos(2 * np.pi * v / pitch)


def seam(rng, grid, pressing):
    """Depth (mm) of a seam's groove, or of the ridge beside it, along a gently bent line."""
    x, y = grid.mesh()
    u, v = along(x, y, (rng.normal(0, 18), 0), np.pi / 2 + rng.uniform(-0.3, 0.3))
    across = v - rng.uniform(-0.0015, 0.0015) * u**2
    return (
        rng.uniform(0.4, 1.3)
        * rng.choice([-1, 1])
        * pressing
        * np.exp(-0.5 * (across / rng.uniform(1.2, 2.2)) ** 2)
    )


def pocket(rng, grid, pressing):
    """Depth (mm) of a pocket's edge, a step of less than a millimetre."""
    x, y = grid.mesh()
    side = rng.choice([-1, 1])
    u, v = along(x, y, (side * rng.uniform(30, 80), rng.uniform(10, 45)), rng.uniform(-0.3, 0.3))
    inside = 1 / (1 + np.exp(np.clip((np.abs(u) - rng.uniform(35, 50)) / 0.8, -60, 60)))
    inside = inside / (1 + np.exp(np.clip(-v / 0.8, -60, 60)))
    return rng.uniform(0.2, 0.6) * pressing * inside


def finger(rng, grid):
    """Depth (mm) of a fingertip's dent near an edge of the window."""
    x, y = grid.mesh()
    at = rng.uniform(-85, 85), rng.choice([-1, 1]) * rng.uniform(45, 60)
    return rng.uniform(1, 2.5) * np.exp(-0.5 * ((x - at[0]) ** 2 + (y - at[1]) ** 2) / 5**2)


def pressed(rng, grid, depth):
    """Depth (mm) that cloth adds to an imprint of a depth (mm), and the names of what was drawn."""
    pressing = np.clip(depth / 6, 0, 1)
    added, names = np.zeros_like(depth), []
    for name, chance, make in (("weave", 0.5, weave), ("seam", 0.35, seam), ("pocket", 0.2, pocket)):
        if rng.random() < chance:
            added += make(rng, grid, pressing)
            names.append(name)
    return added, names


def flatness(rng, grid):
    """A pad's own unevenness (mm, positive down): 0.05 to 0.3 mm over some 60 mm."""
    return rng.uniform(0.05, 0.3) * unevenness(rng, (len(grid.y), len(grid.x)), 60 / grid.step)
