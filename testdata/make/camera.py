"""A phone's camera: where it is held, what its lens does, and where a point of the pad appears.

The world's axes are x right, y up, z up (the frame's with y turned), in mm.  Integer pixel coordinates are
pixel centres.
"""
from dataclasses import dataclass

import cv2
import numpy as np

FULL_DIAGONAL = 43.2666  # mm of the 36 x 24 mm format
STRANGE = {  # add-on lenses: the ranges of k1 and k2, p of a slant, and the axis' way off the middle, widths
    "wave": ((-0.13, -0.09), (0.06, 0.09), 0, 0),  # a barrel in the middle, straight again at the rim
    "half a wave": ((-0.065, -0.045), (0.03, 0.045), 0, 0),
    "turned wave": ((0.06, 0.1), (-0.08, -0.05), 0, 0),
    "barrel": ((-0.12, -0.07), (0, 0), 0, 0),
    "cushion": ((0.05, 0.09), (0, 0), 0, 0),
    "slant": ((-0.012, 0.008), (-0.003, 0.003), 0.012, 0),
    "off": ((-0.012, 0.008), (-0.003, 0.003), 0, 0.04),
}


@dataclass(frozen=True)
class Phone:
    """One phone's lens, wide or tele: what its files state, and what is true."""

    f35: int  # mm, the 35 mm equivalent that its files state
    stated_over_true: float  # makers round, and measure differently
    k1: float  # radial terms at the scale of 3/4 of the picture's width
    k2: float
    principal: tuple  # of the axis from the picture's middle, in widths
    askew: tuple = (0.0, 0.0)  # p1, p2 of a lens put on at a slant, at the scale of k1


@dataclass(frozen=True)
class Camera:
    """A phone held somewhere: place (mm) and axes (columns: right, up, backward) in the world; pixels."""

    phone: Phone
    width: int
    rows: int
    focal: float  # px
    place: np.ndarray
    axes: np.ndarray
    tilt: float  # rad
    focus: float  # mm

    def matrix(self):
        """The pinhole's matrix, px."""
        shift = np.array(self.phone.principal) * self.width
        return np.array(
            [
                [self.focal, 0, (self.width - 1) / 2 + shift[0]],
                [0, self.focal, (self.rows - 1) / 2 + shift[1]],
                [0, 0, 1],
            ]
        )

    def lens(self):
        """k1, k2, p1, p2 and 0 in units of the focal length, as cv2 takes them."""
        unit = (self.focal / (self.width * 0.75)) ** 2
        slant = np.array(self.phone.askew) * np.sqrt(unit)
        return np.array([self.phone.k1 * unit, self.phone.k2 * unit**2, *slant, 0])

    def project(self, x, y, depth):
        """Pixels of a point of the pad: x, y in the frame's axes, depth below the pad's flat surface, mm."""
        p = self.axes.T @ (np.array([x, -y, -depth]) - self.place)
        pixels, _ = cv2.projectPoints(
            np.array([[[p[0], -p[1], -p[2]]]]), np.zeros(3), np.zeros(3), self.matrix(), self.lens()
        )
        return pixels.ravel().tolist()


def draw_phone(rng, tele):
    """A phone's wide (26 mm) or tele (52 mm) lens."""
    return Phone(
        52 if tele else 26,
        1 + rng.normal(0, 0.012),
        rng.uniform(-0.012, 0.008),
        rng.uniform(-0.003, 0.003),
        tuple(rng.normal(0, 0.0015, 2)),
    )


def draw_strange(rng, kind):
    """An add-on lens of a kind of STRANGE, as it was put on before a phone."""
    k1, k2, askew, off = STRANGE[kind]
    stated, k1, k2 = 1 + rng.normal(0, 0.012), rng.uniform(*k1), rng.uniform(*k2)
    principal = tuple(rng.normal(0, 0.0015, 2))
    if not askew and not off:
        return Phone(26, stated, k1, k2, principal)
    turn = rng.uniform(0, 2 * np.pi)
    side = np.array([np.cos(turn), np.sin(turn)])
    return Phone(26, stated, k1, k2, tuple(principal + off * side), tuple(askew * side))


def hold(rng, phone, size, view):
    """The phone held over the frame: view 0 about from above, 1 from the right, 2 from the left.

    >>> rng = np.random.default_rng(1)
    >>> c = hold(rng, draw_phone(rng, False), (2016, 1512), 1)
    >>> bool(18 < np.degrees(c.tilt) < 26 and c.place[0] > 0)
    True
    >>> bool(np.allclose(c.axes.T @ c.axes, np.eye(3)) and np.linalg.det(c.axes) > 0)
    True
    """
    width, rows = size
    focal = (
        phone.f35
        / phone.stated_over_true
        / FULL_DIAGONAL
        * np.hypot(width, rows)
        * (1 + rng.normal(0, 0.002))
    )
    distance = rng.uniform(0.97, 1.25 if phone.f35 > 40 else 1.7) * focal * 300 / width
    tilt, azimuth = min(np.radians(abs(rng.normal(0, 9))), np.radians(28)), rng.uniform(0, 2 * np.pi)
    if view:
        tilt, azimuth = np.radians(rng.uniform(18, 26)), rng.normal(0, 0.3) + (np.pi if view == 2 else 0)
        distance *= 1.15
    target = np.array([rng.normal(0, 8), rng.normal(0, 6), 0])
    back = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    roll = rng.normal(0, np.radians(6)) + (np.pi if rng.random() < 0.2 else 0)
    right = np.cross([-np.sin(roll), np.cos(roll), 0], back)
    right /= np.linalg.norm(right)
    axes = np.stack([right, np.cross(back, right), back], 1)
    return Camera(phone, width, rows, focal, target + distance * back, axes, tilt, distance)


def bend(picture, camera):
    """The pinhole's picture as the lens bends it."""
    column, row = np.meshgrid(
        np.arange(camera.width, dtype=np.float32), np.arange(camera.rows, dtype=np.float32)
    )
    matrix = camera.matrix()
    straight = [
        cv2.undistortPoints(
            np.stack([column[r : r + 256].ravel(), row[r : r + 256].ravel()], -1)[:, None],
            matrix,
            camera.lens(),
            P=matrix,
        )
        for r in range(0, camera.rows, 256)
    ]
    straight = np.concatenate(straight).reshape(camera.rows, camera.width, 2)
    return cv2.remap(
        picture, straight[..., 0], straight[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
