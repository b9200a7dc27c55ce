"""A seated body: two oblong bony ridges under soft tissue, pressed into a pad.

The ridges converge and rise to the front.  Skin hangs below them as two buttocks and two thighs.  Every
column of bone, tissue and foam is in series (series.py); then the foam's skin spreads the pressing, and after
the rider got up the pad has partly recovered.  What is not known of bodies is drawn wide.  Lengths in mm,
angles in rad, axes the frame's.
"""
from dataclasses import dataclass

import numpy as np

from series import FOAM_LIMIT, foam_share, sink_for, stress
from surface import LOAD, along, bowl, smooth, smooth_minimum

FRONT = -np.pi / 2  # the direction of the front edge: y points down


@dataclass(frozen=True)
class Body:
    """One sitting of one body; lengths in mm, angles in rad, modulus in kPa, load in N."""

    spacing: float  # between the ridges' lowest points, before pressing
    middle: tuple  # x, y between them
    yaw: float  # the body's turn on the pad
    toe_in: float  # of each ridge, from straight ahead
    front_slope: float  # of the bone along the ridge, toward the front
    front_radius: float  # of curvature along the ridge, in front of its lowest point
    back_slope: float
    back_radius: float
    side_slope: float  # of the bone across the ridge
    side_radius: float
    tissue: float  # thickness under the ridge's lowest point
    tissue_most: float  # thickness far from bone
    tissue_modulus: float
    buttock_out: float  # of the buttock's lowest point from the ridge's, outward
    buttock_back: float
    buttock_radius: float
    thigh_height: float  # of the thighs' underside above the buttocks'
    thigh_splay: float
    thigh_radius: float
    lean: float  # slope to one side: sitting on one side more
    load: float


def draw(rng):
    """A body drawn at random, wide."""
    lean = rng.normal(0, 0.015) if rng.random() < 0.75 else rng.choice([-1, 1]) * rng.uniform(0.025, 0.07)
    return Body(
        spacing=float(np.clip(rng.normal(122, 17), 84, 166)),
        middle=(rng.normal(0, 6), rng.normal(2, 7)),
        yaw=np.radians(rng.normal(0, 4)),
        toe_in=np.radians(rng.uniform(6, 38)),
        front_slope=rng.uniform(0.12, 0.6),
        front_radius=rng.uniform(25, 90),
        back_slope=rng.uniform(0.6, 1.6),
        back_radius=rng.uniform(14, 45),
        side_slope=rng.uniform(1.0, 2.5),
        side_radius=rng.uniform(7, 20),
        tissue=rng.uniform(5, 24),
        tissue_most=rng.uniform(40, 75),
        tissue_modulus=rng.uniform(7, 40),
        buttock_out=rng.uniform(-2, 24),
        buttock_back=rng.uniform(-8, 16),
        buttock_radius=rng.uniform(50, 120),
        thigh_height=rng.uniform(6, 30),
        thigh_splay=np.radians(rng.uniform(2, 22)),
        thigh_radius=rng.uniform(40, 90),
        lean=lean,
        load=rng.uniform(260, 750),
    )


def low_point(body, side):
    """x, y (mm) of the lowest point of the ridge on one side (-1 left, 1 right)."""
    half = side * body.spacing / 2
    return body.middle[0] + half * np.cos(body.yaw), body.middle[1] + half * np.sin(body.yaw)


def bone_rise(body, side, x, y):
    """Height (mm) of one ridge's underside above its lowest point."""
    ahead, across = along(x, y, low_point(body, side), FRONT - side * body.toe_in + body.yaw)
    front = bowl(ahead, body.front_radius, body.front_slope)
    back = bowl(ahead, body.back_radius, body.back_slope)
    return np.where(ahead > 0, front, back) + bowl(across, body.side_radius, body.side_slope)


def skin_rise(body, x, y):
    """Height (mm) of the unpressed skin, buttocks and thighs, above the buttocks' lowest points."""
    parts = []
    for side in (-1, 1):
        low = low_point(body, side)
        at = (low[0] + side * body.buttock_out, low[1] + body.buttock_back)
        parts.append(bowl(np.hypot(x - at[0], y - at[1]), body.buttock_radius, 1.2))
        ahead, across = along(x, y, at, FRONT + side * body.thigh_splay + body.yaw)
        trough = bowl(across, body.thigh_radius, 1.2) + body.thigh_height - 0.03 * np.maximum(ahead, 0)
        parts.append(trough + np.where(ahead > 0, 0, 2.0 * np.abs(ahead)))
    return smooth_minimum(parts, 3.0)


def columns(body, x, y):
    """The skin's height above its lowest point, and the tissue's thickness, mm, over every point."""
    skin = skin_rise(body, x, y)
    bone = np.minimum(bone_rise(body, -1, x, y), bone_rise(body, 1, x, y))
    at_low = np.mean([skin_rise(body, *low_point(body, s)) for s in (-1, 1)])
    tissue = np.maximum(body.tissue + at_low + bone - skin, 0.6 * body.tissue)
    tissue = smooth_minimum([tissue, np.full_like(tissue, body.tissue_most)], 5.0)
    gap = skin + body.lean * (x - body.middle[0])
    return gap, tissue


def press(body, thickness, modulus, grid):
    """The foam's compression (mm) and stress (kPa) on the grid, while the body sits on a pad.

    thickness (mm) and modulus (kPa) are the pad's; the body sinks until the pad carries its load.

    >>> from dataclasses import replace
    >>> body = replace(draw(np.random.default_rng(1)), middle=(0.0, 0.0), yaw=0.0, lean=0.0)
    >>> foam, kilopascals = press(body, 30.0, 15.0, LOAD)
    >>> bool(np.allclose(foam, foam[:, ::-1], atol=1e-9))        # a symmetric body presses symmetrically
    True
    >>> bool(foam.max() < FOAM_LIMIT * 30.0)
    True
    >>> bool(abs(kilopascals.sum() * LOAD.step ** 2 * 1e-3 - body.load) < 1)    # the pad carries the load
    True
    """

    def share_of(tissue):
        return lambda overlap: foam_share(overlap, thickness, tissue, modulus, body.tissue_modulus)

    gap, tissue = columns(body, *LOAD.mesh())
    lowest = gap.min()
    sink = sink_for(body.load, gap - lowest, LOAD.step**2, share_of(tissue), thickness, modulus)
    if grid is not LOAD:
        gap, tissue = columns(body, *grid.mesh())
    foam = share_of(tissue)(np.maximum(sink - (gap - lowest), 0))
    return foam, stress(foam / thickness, modulus, FOAM_LIMIT)


def recover(foam, rng, step):
    """What is left (mm) of the foam's compression: spread by its skin, then partly and unevenly recovered."""
    spread = smooth(foam, rng.uniform(3, 12), step)
    kept = rng.uniform(0.45, 0.85) * (np.maximum(spread, 0) / spread.max()) ** rng.uniform(0, 0.35)
    return smooth(spread * kept, rng.uniform(1, 5), step)
