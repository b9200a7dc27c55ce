"""The sets by name: their seeds and what is in them.

Change a seed or an order here, and the set is another one.
"""
from dataclasses import dataclass

from light import KINDS

# the triples look again, from more sides, at the first imprints of the single photos
BODIES_HELD_OUT, BODIES_SECOND, BODIES_THIRD = 1504, 1514, 1521


@dataclass(frozen=True)
class Set:
    """A set of photos or of scans: a shape for each imprint, views photos of each."""

    name: str
    seed: int
    shapes: tuple
    views: int = 1
    dotted: bool = False
    stencil: bool = False  # of dotted pads: through `sitspan frame --dots`, closer where riders sit
    lights: tuple = ("window", *KINDS)
    thickness: tuple = (12.0, 60.0)  # mm, the thinnest and the thickest pad
    scanned: bool = False
    other_marks: bool = False  # of scans: by the laws of marks.py and not by scan.py's own
    print_scale: float = 1.0  # the frame's size over its nominal size
    lenses: tuple = ()  # camera.STRANGE's kinds, an imprint each in turn; none: as phones have them


SETS = {
    s.name: s
    for s in (
        # for development
        Set(
            "dotted-dev",
            1501,
            ("body", "bell", "ball", "ridge", "flat", "body", "body", "flat", "body", "ridge"),
            3,
            True,
        ),
        Set("bodies-undotted-dev", 1503, ("body",) * 20),
        Set("scans-dev", 1513, ("body",) * 80, scanned=True, other_marks=True),
        Set(
            "stencil-dev",
            1520,
            ("body", "ridge", "ball", "flat", "bell", "flat", "body", "ridge"),
            3,
            dotted=True,
            stencil=True,
        ),
        Set("bells-plain", 1522, ("bell",) * 40),
        # held out: opened once, and never tuned to
        Set("dotted", 1502, ("body", "bell", "body", "ball", "ridge", "flat") * 4, 3, True),
        Set("bodies-undotted", BODIES_HELD_OUT, ("body",) * 40),
        Set("bodies-triples", BODIES_HELD_OUT, ("body",) * 20, 3),
        Set("dotted-second", 1507, ("body", "bell", "body", "ball", "ridge", "flat") * 4, 3, True),
        Set("dotted-third", 1511, ("body", "bell", "body", "ball", "ridge", "flat") * 4, 3, True),
        Set("dotted-fourth", 1513, ("body", "bell", "body", "ball", "ridge", "flat") * 4, 3, True),
        Set(
            "stencil",
            1519,
            ("body", "bell", "body", "ball", "ridge", "flat") * 4,
            3,
            dotted=True,
            stencil=True,
        ),
        Set("bodies-third", BODIES_THIRD, ("body",) * 40),
        Set("triples-third", BODIES_THIRD, ("body",) * 20, 3),
        Set("bodies-second", BODIES_SECOND, ("body",) * 40),
        Set("triples-second", BODIES_SECOND, ("body",) * 20, 3),
        Set("known", 1505, ("known",) * 20, 3, True),
        Set("known-fitted", 1508, ("known",) * 2, 3, True, print_scale=0.965),
        Set("known-lens", 1509, ("known",) * 2, 3, True, lenses=("wave",)),
        Set(
            "known-lenses",
            1512,
            ("known",) * 6,
            3,
            True,
            lenses=("half a wave", "turned wave", "barrel", "cushion", "slant", "off"),
        ),
        Set("known-wrong", 1510, ("one", "unequal") * 2, 3, True),
        Set("scans-bodies", 1506, ("body",) * 25, scanned=True),
        Set("scans-second", 1514, ("body",) * 40, scanned=True, other_marks=True),
        Set("scans-third", 1518, ("body",) * 40, scanned=True, other_marks=True),
        Set("scans-fourth", 1523, ("body",) * 40, scanned=True, other_marks=True),
    )
}
