"""Bottomed out: dents that come so near to the pad's base that they go gently flat.  Depths in mm."""
import numpy as np


def flatten(depth, room, sharpness):
    """The depth, held below the room (mm): (1 + (depth / room)^-n)^(-1/n) of it; the order of depths stays.

    >>> d = flatten(np.array([0.5, 10.0, 20.0]), 10.0, 6.0)
    >>> [round(float(v), 2) for v in d]
    [0.5, 8.91, 9.97]
    """
    ratio = np.maximum(depth, 0) / room
    return np.where(depth > 0, depth / (1 + ratio**sharpness) ** (1 / sharpness), depth)


def imprint(rng, depth, thickness):
    """What a deep dent (mm) becomes on a pad of a thickness (mm) that gives out beneath it."""
    room = rng.uniform(0.45, 0.7) * thickness
    return flatten(depth * rng.uniform(0.85, 1.2) * room / depth.max(), room, rng.uniform(4, 9))
