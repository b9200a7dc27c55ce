"""One imprint: the pad, what was pressed into it, and where its deepest points truly lie.  Lengths in mm."""
from dataclasses import dataclass, field

import numpy as np

import ball
import bell
import body
import bottomed
import centre
import cloth
import ridge
from surface import HEIGHTS, PAD, smooth

SHAPES = ("body", "bell", "ball", "ridge", "flat", "known", "one", "unequal")
BALLS = {"known": ball.batten, "one": ball.one, "unequal": ball.unequal}
SPACINGS = (75, 185)  # mm: an imprint beyond is drawn again
DEPTHS = (3.0, 30.0)  # mm, of the shallower and the deeper bottom: likewise
FROM_EDGE = 8.0  # mm: a bottom nearer to the frame's window is drawn again: the frame would be laid anew
CARD_PRESSES = 0.15  # mm: under the frame's card no bump of the pad stands higher


@dataclass(frozen=True)
class Pad:
    """A foam or gel pad: thickness (mm) and modulus (kPa)."""

    thickness: float
    modulus: float


@dataclass(frozen=True)
class Imprint:
    """Depths (mm, positive down) on surface.PAD: as seen, and the body's own without cloth.

    And what is true of it.
    """

    shape: str
    pad: Pad
    depth: np.ndarray
    left: centre.Point
    right: centre.Point
    extras: list = field(default_factory=list)
    data: dict = field(default_factory=dict)

    def truth(self):
        """The fields of truth.jsonl that are the imprint's own."""
        left, right = self.left, self.right
        return {
            "shape": self.shape,
            "pad_thickness_mm": round(self.pad.thickness, 1),
            "pad_modulus_kpa": round(self.pad.modulus, 1),
            "extras": self.extras,
            **self.data,
            "depth_mm": [left.depth, right.depth],
            "left": [left.x, left.y],
            "right": [right.x, right.y],
            "spacing_mm": centre.spacing(left, right),
        }

    def heights(self):
        """Depth (mm) on surface.HEIGHTS: rows from y = -68 to 68, columns from x = -104 to 104."""
        rows = np.searchsorted(PAD.y, HEIGHTS.y - PAD.step / 2)
        columns = np.searchsorted(PAD.x, HEIGHTS.x - PAD.step / 2)
        return smooth(self.depth, 0.7, PAD.step)[np.ix_(rows, columns)]


def draw_pad(rng, thin=12.0, thick=60.0):
    """A pad between thin and thick (mm); the thinner, the firmer, as far as makers hold to that."""
    thickness = float(np.exp(rng.uniform(np.log(thin), np.log(thick))))
    modulus = float(np.clip(55 * (12 / thickness) ** 1.2 * np.exp(rng.normal(0, 0.4)), 4, 120))
    return Pad(thickness, modulus)


def shape_depth(rng, shape, pad):
    """Depth (mm) of a shape in a pad, and the shape's data, if it has any that are known beforehand."""
    sunk = rng.uniform(0.3, 0.65) * min(pad.thickness, 26.0)
    if shape == "body":
        foam, _ = body.press(body.draw(rng), pad.thickness, pad.modulus, PAD)
        return body.recover(foam, rng, PAD.step), {}
    if shape in BALLS:
        return BALLS[shape](rng, PAD, pad.thickness)
    if shape == "ball":
        return ball.imprint(rng, PAD, sunk, bell.places(rng)), {}
    if shape == "ridge":
        return ridge.imprint(rng, PAD, sunk, bell.places(rng)), {}
    depth = bell.imprint(rng, PAD, sunk)
    return (bottomed.imprint(rng, depth, pad.thickness) if shape == "flat" else depth), {}


def once(rng, shape, pad):
    """An imprint drawn once; NoCentre where it is none that two deepest points can be told of."""
    pressed, data = shape_depth(rng, shape, pad)
    bare = pressed + cloth.flatness(rng, PAD)
    left, right = [centre.only(bare, PAD)] * 2 if shape == "one" else centre.deepest(bare, PAD)
    shallow, deep = sorted((left.depth, right.depth))
    if shape != "one" and not SPACINGS[0] < centre.spacing(left, right) < SPACINGS[1]:
        raise centre.NoCentre("the spacing is no rider's")
    if shallow < DEPTHS[0] or deep > DEPTHS[1]:
        raise centre.NoCentre("too shallow or too deep")
    if any(
        abs(p.x) > HEIGHTS.x[-1] + 2 - FROM_EDGE or abs(p.y) > HEIGHTS.y[-1] + 2 - FROM_EDGE
        for p in (left, right)
    ):
        raise centre.NoCentre("too near the window's edge")
    added, extras = np.zeros_like(bare), []
    if shape == "body":
        added, extras = cloth.pressed(rng, PAD, pressed)
    if shape not in BALLS and rng.random() < 0.2:
        added, extras = added + cloth.finger(rng, PAD), extras + ["finger"]
    x, y = PAD.mesh()
    card = (np.abs(x) < 134) & (np.abs(y) < 98) & ~((np.abs(x) < 106) & (np.abs(y) < 70))
    depth = np.where(card, np.maximum(bare + added, -CARD_PRESSES), bare + added)
    return Imprint(shape, pad, depth, left, right, extras, data)


def draw(rng, shape, thin=12.0, thick=60.0):
    """An imprint of a shape on a pad between thin and thick (mm), drawn until it has two deepest points.

    >>> made = draw(np.random.default_rng(3), "ball")
    >>> made.heights().shape, made.shape
    ((69, 105), 'ball')
    >>> row, column = round((made.left.y + 68) / 2), round((made.left.x + 104) / 2)
    >>> bool(abs(made.heights()[row, column] - made.left.depth) < 0.3)   # the point nearest the bottom
    True
    """
    if shape not in SHAPES:
        raise ValueError(f"shape {shape}: needed is one of {', '.join(SHAPES)}")
    pad = draw_pad(rng, thin, min(thick, 24.0) if shape == "flat" else thick)
    for _ in range(200):
        try:
            return once(rng, shape, pad)
        except centre.NoCentre:
            continue
    raise centre.NoCentre(
        f"200 draws of shape {shape} on a pad of {pad.thickness:.0f} mm had no two deepest points"
    )
