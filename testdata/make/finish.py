"""How a pad looks: its outline, colour, stains, weave, and the dots that a felt pen drew on it once."""
from dataclasses import asdict, dataclass

import cv2
import numpy as np

from surface import PAD, along, unevenness

PIXELS_PER_MM = 6
COLOURS = [
    (0.55, 0.55, 0.57),
    (0.62, 0.55, 0.42),
    (0.30, 0.38, 0.50),
    (0.10, 0.10, 0.11),
    (0.62, 0.42, 0.42),
    (0.45, 0.50, 0.40),
    (0.75, 0.74, 0.70),
    (0.22, 0.24, 0.27),
]  # linear red, green, blue
DARK = 0.16  # reflectance: on a darker pad the pen is a light one
DOT_SPACING = 9.0  # mm, about a little finger's breadth
STENCIL_APART = 7.5  # mm, between centres at least: some 9 mm where the sheet is full
STENCIL_CLOSE = 5.4  # mm, likewise where riders sit: some 7 mm
SEATS = (25, 95, 45)  # mm: where riders sit, from and to on either side, and to the front and back
TABLES = [(0.35, 0.22, 0.12), (0.5, 0.5, 0.5), (0.12, 0.12, 0.14), (0.6, 0.5, 0.4)]


@dataclass(frozen=True)
class Finish:
    """A pad's look; lengths in mm, angle in rad, colours linear."""

    colour: tuple
    half: tuple  # half the pad's width and length
    offset: tuple  # of the pad's middle from the frame's
    turn: float  # of the pad against the frame
    stain: float  # the part of the light that a stain takes
    grain: float  # standard deviation of the colour at the half-millimetre scale, relative
    weave: float  # a printed or woven pattern's contrast
    weave_pitch: float
    roughness: float
    specular: float
    pore_scale: float
    pore_strength: float
    table: tuple


def draw(rng):
    """A finish drawn at random."""
    colour = tuple(
        float(np.clip(c * rng.uniform(0.85, 1.15), 0.03, 0.9)) for c in COLOURS[rng.integers(len(COLOURS))]
    )
    return Finish(
        colour=colour,
        half=(rng.uniform(178, 200), rng.uniform(134, 155)),
        offset=tuple(rng.normal(0, 3, 2)),
        turn=np.radians(rng.normal(0, 3)),
        stain=rng.uniform(0.03, 0.35),
        grain=rng.uniform(0.0, 0.05),
        weave=rng.uniform(0.02, 0.15) if rng.random() < 0.4 else 0.0,
        weave_pitch=rng.uniform(1.4, 4),
        roughness=rng.uniform(0.7, 1),
        specular=rng.uniform(0, 0.35),
        pore_scale=rng.uniform(60, 160),
        pore_strength=rng.uniform(0.05, 0.5),
        table=TABLES[rng.integers(len(TABLES))],
    )


def outline(finish, x, y):
    """Where the pad is, as a field of True and False."""
    u, v = along(x, y, finish.offset, finish.turn)
    return (np.abs(u) < finish.half[0]) & (np.abs(v) < finish.half[1])


def ground(rng, finish, shape):
    """The pad's reflectance without dots, rows from the front, linear blue, green, red."""
    stains = np.clip(0.5 + 0.35 * unevenness(rng, shape, rng.uniform(10, 30) * PIXELS_PER_MM), 0, 1)
    light = 1 - finish.stain * stains
    light *= 1 + finish.grain * unevenness(rng, shape, 0.4 * PIXELS_PER_MM)
    if finish.weave:
        rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]] / PIXELS_PER_MM
        u, v = along(columns, rows, (0, 0), finish.turn)
        turn = 2 * np.pi / finish.weave_pitch
        light *= 1 + finish.weave * np.sin(turn * u) * np.sin(turn * v)
    return light[..., None].astype(np.float32) * np.array(finish.colour[::-1], np.float32)


def dot_places(rng):
    """x, y (mm) of the dots: rows drawn by hand, about DOT_SPACING apart, a few left out."""
    x, y = np.meshgrid(np.arange(-205, 206, DOT_SPACING), np.arange(-160, 161, DOT_SPACING))
    x, y = along(x, y, (0, 0), rng.normal(0, 0.05))
    places = np.stack([x, y], -1) + rng.normal(0, 1.6, (*x.shape, 2))
    return places.reshape(-1, 2)[rng.random(x.size) > 0.03]


def stencil_places(rng):
    """x, y (mm) of the dots of a pad that was dotted through `sitspan frame --dots`, closer where riders sit.

    By the sheet's own law: thrown at random, and kept where they are far enough from those before.  The
    frame lies a little aside from where the sheet lay, and dots are a little aside from its holes.

    >>> made = stencil_places(np.random.default_rng(1))
    >>> seats = (abs(abs(made[:, 0]) - 60) < 30) & (abs(made[:, 1]) < 40)
    >>> bool(6.4 < np.sqrt(2 * 60 * 80 / seats.sum()) < 7.6)  # apart, mm
    True
    """
    aside, turn = rng.normal(0, 4, 2), rng.normal(0, 0.03)
    first, last, half = SEATS
    places, apart = np.empty((6000, 2)), np.empty(6000)  # room for all that can keep apart
    kept = missed = 0
    while missed < 4000:
        place = rng.uniform((-205, -160), (205, 160))
        x, y = along(*place, aside, turn)
        own = STENCIL_CLOSE if first <= abs(x) <= last and abs(y) <= half else STENCIL_APART
        far = np.hypot(*(places[:kept] - place).T) >= np.minimum(apart[:kept], own)
        missed = 0 if far.all() else missed + 1
        if not missed:
            places[kept], apart[kept] = place, own
            kept += 1
    return places[:kept] + rng.normal(0, 0.3, (kept, 2))


def dots(rng, shape, places):
    """How much ink lies where, 0 to 1: at each place (mm) a dot of 1.6 to 3 mm, not quite round or even."""
    ink, fine = np.zeros(shape, np.float32), 16
    for x, y in places:
        radius = rng.uniform(0.85, 1.5) * PIXELS_PER_MM
        column, row = (x + PAD.x[-1]) * PIXELS_PER_MM, (y + PAD.y[-1]) * PIXELS_PER_MM
        size = int(3 * radius)
        left, top = int(column) - size, int(row) - size
        if left < 0 or top < 0 or left + 2 * size > shape[1] or top + 2 * size > shape[0]:
            continue
        dot = np.zeros((2 * size, 2 * size), np.float32)
        for _ in range(rng.integers(1, 4)):  # the pen was set down and moved a little
            at = np.array([column - left, row - top]) + rng.normal(0, 0.15 * radius, 2)
            axes = radius * rng.uniform(0.88, 1.05, 2)
            cv2.ellipse(
                dot,
                tuple(int(v * fine) for v in at),
                tuple(int(v * fine) for v in axes),
                rng.uniform(0, 180),
                0,
                360,
                1.0,
                -1,
                cv2.LINE_AA,
                4,
            )
        dot = cv2.GaussianBlur(np.clip(dot, 0, 1), (0, 0), 0.12 * PIXELS_PER_MM) * rng.uniform(0.8, 1)
        part = ink[top : top + 2 * size, left : left + 2 * size]
        np.maximum(part, dot, out=part)
    return ink


def paint(rng, finish, dotted, stencil=False):
    """The pad's picture for rendering: rows from the front, 8-bit sRGB, blue, green, red, PIXELS_PER_MM.

    Its dots are drawn by hand or through the stencil.
    """
    shape = (int(2 * PAD.y[-1]) * PIXELS_PER_MM, int(2 * PAD.x[-1]) * PIXELS_PER_MM)
    picture = ground(rng, finish, shape)
    if dotted:
        dark = np.mean(finish.colour) >= DARK
        pen = np.array(
            [(0.03, 0.02, 0.02), (0.15, 0.04, 0.03), (0.03, 0.03, 0.02)][rng.integers(3)]
            if dark
            else (0.7, 0.72, 0.72)
        )
        places = stencil_places(rng) if stencil else dot_places(rng)
        ink = dots(rng, shape, places)[..., None] * rng.uniform(0.75, 0.97)
        picture = picture * (1 - ink) + ink * pen
    return (np.clip(picture, 0, 1) ** (1 / 2.2) * 255 + 0.5).astype(np.uint8)


def for_scene(finish):
    """The finish as the scene reads it."""
    return {
        k: v
        for k, v in asdict(finish).items()
        if k in ("roughness", "specular", "pore_scale", "pore_strength", "table")
    }
