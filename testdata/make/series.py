"""Columns of soft tissue over foam, in series: both carry the same stress.

Stress of either: E e / (1 - e / limit), with e the strain (shortening / thickness): it grows without bound as
the strain nears the limit, at which a foam's cells, or the tissue's, are closed.  Lengths in mm, moduli and
stresses in kPa.
"""
import numpy as np

FOAM_LIMIT = 0.95
TISSUE_LIMIT = 0.90


def stress(strain, modulus, limit):
    """Stress (kPa) at a strain below the limit."""
    return modulus * strain / (1 - strain / limit)


def foam_share(overlap, foam_thickness, tissue_thickness, foam_modulus, tissue_modulus):
    """The part (mm) of the overlap that the foam gives way by; the tissue gives way by the rest.

    The equality of stresses is a quadratic equation in that part; this is its root between 0 and the overlap.
    Overlaps beyond what both limits leave room for are cut to just below it.

    >>> f = foam_share(np.array([10.0, 30.0]), 40.0, 20.0, 15.0, 25.0)
    >>> foam, tissue = f / 40.0, (np.array([10.0, 30.0]) - f) / 20.0
    >>> bool(np.allclose(stress(foam, 15.0, FOAM_LIMIT), stress(tissue, 25.0, TISSUE_LIMIT)))
    True
    >>> bool((foam < FOAM_LIMIT).all() and (tissue < TISSUE_LIMIT).all())
    True
    >>> f = foam_share(12.0, 30.0, 30.0, 20.0, 20.0)        # alike but for the limit: nearly equal strains
    >>> bool(abs(f - 6.0) < 0.1)
    True
    >>> float(foam_share(0.0, 30.0, 30.0, 20.0, 20.0))      # no overlap, no give
    0.0
    >>> f = foam_share(10.0, 30.0, 30.0, 20.0, 2e6)         # tissue like bone: the foam gives way by it all
    >>> bool(abs(f - 10.0) < 0.01)
    True
    """
    room = FOAM_LIMIT * foam_thickness + TISSUE_LIMIT * tissue_thickness
    overlap = np.minimum(overlap, 0.995 * room)
    foam_stiffness, tissue_stiffness = foam_modulus / foam_thickness, tissue_modulus / tissue_thickness
    foam_room, tissue_room = FOAM_LIMIT * foam_thickness, TISSUE_LIMIT * tissue_thickness
    square = foam_stiffness / tissue_room - tissue_stiffness / foam_room
    linear = foam_stiffness * (1 - overlap / tissue_room) + tissue_stiffness * (1 + overlap / foam_room)
    root = np.sqrt(np.maximum(linear**2 + 4 * square * tissue_stiffness * overlap, 0))
    return 2 * tissue_stiffness * overlap / (linear + root)


def sink_for(load, gap, cell, share, foam_thickness, foam_modulus):
    """How far (mm) the body's lowest point sinks below the flat pad until the pad carries the load (N).

    gap is the body's height (mm) above its lowest point, cell the area (mm^2) of a grid point, and
    share(overlap) the foam's part (mm) of an overlap.  By bisection; the load grows with the sinking.
    """
    low, high = 0.0, 150.0
    for _ in range(40):
        sink = (low + high) / 2
        strain = share(np.maximum(sink - gap, 0)) / foam_thickness
        carried = stress(strain, foam_modulus, FOAM_LIMIT).sum() * cell * 1e-3
        low, high = (sink, high) if carried < load else (low, sink)
    return (low + high) / 2
