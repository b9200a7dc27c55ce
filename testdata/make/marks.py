"""Pressure marks by other laws than scan.py's: other bones, thicker and softer stacks, papers of other kinds.

The sheet lies on anything from a thin mat on a bench to a thick cushion, so a mark may be two small spots or
two whole buttocks with the thighs, cut off by the sheet.  Nothing here was measured; what is not known of
seats and papers is drawn wide.  Lengths in mm, angles in rad, pressures and moduli in kPa.
"""
from dataclasses import dataclass

import cv2
import numpy as np

import centre
from series import FOAM_LIMIT, foam_share, sink_for, stress
from surface import LOAD, PAD, along, smooth, smooth_minimum, unevenness

SIDES = (-1, 1)
BONE_RISE = 5.0  # mm: the level at which a bone's half lengths are stated


def between(rng, low, high):
    """A number between low and high, its logarithm uniform."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def pair(rng, low, high, unlike):
    """A number for either side: alike but for a standard deviation of unlike (ln)."""
    both = between(rng, low, high)
    return [both * np.exp(rng.normal(0, unlike)) for _ in SIDES]


def bones(rng, spacing, unlike):
    """A function of x and y: the bones' height above their lowest points.

    Each is a bowed ridge, longer to the front than to the back, blunt or pointed.
    """
    front, back, across = (pair(rng, *ends, unlike) for ends in ((14, 60), (8, 30), (5, 18)))
    toe, bow, power = rng.uniform(0.05, 0.8), rng.normal(0, 0.004), rng.uniform(1.6, 2.8)

    def height(x, y):
        parts = []
        for k, side in enumerate(SIDES):
            ahead, out = along(x, y, (side * spacing / 2, 0), -np.pi / 2 - side * toe)
            out = out - side * bow * ahead**2
            length = np.where(ahead > 0, front[k], back[k])
            square = (ahead / length) ** 2 + (out / across[k]) ** 2
            parts.append(BONE_RISE * (square + 1e-3) ** (power / 2))
        return np.minimum(*parts)

    return height


def flesh(rng, spacing, unlike):
    """A function of x and y: the unpressed skin's height, two buttocks and two thighs."""
    wide, long, thigh = (pair(rng, *ends, unlike) for ends in ((40, 160), (45, 170), (40, 110)))
    out, behind, up = rng.uniform(-4, 26), rng.uniform(-12, 20), rng.uniform(4, 35)
    splay, slope, crease = rng.uniform(0, 0.4), rng.uniform(-0.05, 0.15), rng.uniform(2, 7)

    def height(x, y):
        parts = []
        for k, side in enumerate(SIDES):
            at = (side * (spacing / 2 + out), behind)
            parts.append((x - at[0]) ** 2 / (2 * wide[k]) + (y - at[1]) ** 2 / (2 * long[k]))
            ahead, beside = along(x, y, at, -np.pi / 2 + side * splay)
            rise = up + slope * np.maximum(ahead, 0) + np.maximum(-ahead, 0) ** 2 / 60
            parts.append(beside**2 / (2 * thigh[k]) + rise)
        return smooth_minimum(parts, crease)

    return height


def stack(rng, grid=PAD):
    """The pressure (kPa) of a body on a sheet over a stack of foam, on the grid."""
    spacing, unlike = float(np.clip(rng.normal(120, 18), 80, 172)), rng.choice([0.03, 0.03, 0.12])
    x0, y0, yaw = rng.normal(0, 6), rng.normal(0, 9), rng.normal(0, 0.06)
    bone, skin = bones(rng, spacing, unlike), flesh(rng, spacing, unlike)
    least, most, soft = between(rng, 6, 40), rng.uniform(40, 90), between(rng, 5, 60)
    foam, modulus = between(rng, 4, 80), between(rng, 6, 250)
    lean = rng.normal(0, 0.015) if rng.random() < 0.75 else rng.choice(SIDES) * rng.uniform(0.02, 0.08)
    load = rng.uniform(250, 800)

    def columns(ground):
        x, y = along(*ground.mesh(), (x0, y0), yaw)
        surface = skin(x, y)
        lowest = np.mean([skin(np.array(s * spacing / 2), np.array(0.0)) for s in SIDES])
        tissue = np.maximum(least + lowest + bone(x, y) - surface, 0.6 * least)
        return surface + lean * x, smooth_minimum([tissue, np.full_like(tissue, most)], 5.0)

    def share(tissue):
        return lambda overlap: foam_share(overlap, foam, tissue, modulus, soft)

    gap, tissue = columns(LOAD)
    base = gap.min()
    sink = sink_for(load, gap - base, LOAD.step**2, share(tissue), foam, modulus)
    gap, tissue = columns(grid)
    pressed = share(tissue)(np.maximum(sink - (gap - base), 0))
    return smooth(stress(pressed / foam, modulus, FOAM_LIMIT), between(rng, 2, 10), grid.step)


def tops(pressure):
    """The left and the right place of highest pressure; NoCentre where no reader should be asked for them."""
    left, right = centre.deepest(pressure, PAD)
    shallow = min(left.depth, right.depth) / max(left.depth, right.depth)
    inside = all(abs(p.x) < 98 and abs(p.y) < 60 for p in (left, right))
    if shallow < 0.4 or not inside or not 75 < centre.spacing(left, right) < 185:
        raise centre.NoCentre("too unlike, too far out or no rider's distance")
    return left, right


def pressing(rng):
    """A body's pressure on the sheet, 1 at its highest, and its two places of highest pressure."""
    for _ in range(400):
        pressure = stack(rng)
        try:
            left, right = tops(pressure)
        except centre.NoCentre:
            continue
        return pressure / max(left.depth, right.depth), left, right
    raise centre.NoCentre("400 draws had no two places of highest pressure")


@dataclass(frozen=True)
class Paper:
    """A sheet's ink and grain; lengths in mm, the rest in densities and shares of the highest pressure."""

    kind: int  # of the response
    gain: float
    bend: float
    least: float  # pressure that marks
    cloth: float  # by which it moves the pressure
    cloth_length: float
    burst: float  # share of the ink that comes in capsules
    capsule: float
    fine: float
    coarse: float
    coarse_length: float
    broad: float
    broad_length: float
    full_from: float  # the grain is whole from one over this
    spread: float

    def response(self, pressure):
        """The ink's density, 0 to 1, without grain, under a pressure that is 1 at its highest."""
        above = np.clip(pressure - self.least, 0, None) / (1 - self.least)
        grown = self.gain * above**self.bend
        return np.clip((np.tanh(grown), 1 - np.exp(-grown), grown / (1 + grown))[self.kind], 0, 1)


def paper(rng):
    """A sheet drawn at random, wide."""
    return Paper(
        kind=int(rng.integers(3)),
        gain=between(rng, 0.7, 4),
        bend=rng.uniform(0.6, 1.6),
        least=between(rng, 0.01, 0.3),
        cloth=rng.uniform(0, 0.03),
        cloth_length=rng.uniform(6, 20),
        burst=rng.uniform(0.2, 0.7) if rng.random() < 0.4 else 0.0,
        capsule=rng.uniform(0.15, 0.6),
        fine=rng.uniform(0.02, 0.15),
        coarse=rng.uniform(0.02, 0.15),
        coarse_length=rng.uniform(0.15, 0.7),
        broad=rng.uniform(0, 0.06),
        broad_length=rng.uniform(1.5, 5),
        full_from=rng.uniform(3, 8),
        spread=rng.uniform(0.08, 0.2),
    )


def capsules(rng, ink, size):
    """The ink as burst capsules, size samples wide, each there or not: the density is their share."""
    cells = [int(np.ceil(n / max(1.0, size))) for n in ink.shape]
    share = cv2.resize(ink, cells[::-1], interpolation=cv2.INTER_AREA)
    burst = (rng.random(cells) < share).astype(np.float32)
    return cv2.resize(burst, ink.shape[::-1], interpolation=cv2.INTER_CUBIC)


def density(rng, sheet, pressure, dots):
    """The ink's density, 0 to 1, where the pressure (1 at its highest) bore on the sheet, dots to the mm.

    Cloth moves the pressure by a few hundredths; paper takes the ink unevenly, fine and coarse.
    """

    def field(length):
        return unevenness(rng, pressure.shape, length * dots)

    pressure = pressure * (1 + sheet.cloth * field(sheet.cloth_length))
    ink = sheet.response(pressure).astype(np.float32)
    if sheet.burst:
        ink = (1 - sheet.burst) * ink + sheet.burst * capsules(rng, ink, sheet.capsule * dots)
    grain = sheet.fine * rng.standard_normal(pressure.shape) + sheet.coarse * field(sheet.coarse_length)
    grain = grain + sheet.broad * field(sheet.broad_length)
    ink = ink + grain * np.clip((pressure - sheet.least) * sheet.full_from, 0.1, 1)
    return cv2.GaussianBlur(np.clip(ink, 0, 1).astype(np.float32), (0, 0), sheet.spread * dots)
