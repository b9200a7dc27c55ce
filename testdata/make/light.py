"""Lamps over the pad.

Lengths in mm in the world's axes (x right, y up, z up); powers in Blender's watts at 1 unit = 100 mm.
"""
import numpy as np

KINDS = ("window", "panel", "flash", "two")


def window(rng, turned):
    """A broad lamp to one side, turned (rad) about the pad from where it first stood."""
    azimuth, height = rng.uniform(0, 2 * np.pi) + turned, np.radians(rng.uniform(18, 65))
    distance = rng.uniform(900, 2500)
    at = distance * np.array(
        [np.cos(azimuth) * np.cos(height), np.sin(azimuth) * np.cos(height), np.sin(height)]
    )
    return {
        "at": at.tolist(),
        "size": rng.uniform(250, 1200),
        "colour": [1, 1, rng.uniform(0.9, 1.1)],
        "power": 1400 * (distance / 1000) ** 2,
    }


def draw(rng, kind, turned, camera):
    """The lamps of one kind and the sky's brightness and colour.

    A flash sits 12 mm beside the camera's lens.
    """
    sky, colour = rng.uniform(0.12, 0.5), [1, rng.uniform(0.9, 1), rng.uniform(0.8, 1)]
    side = window(rng, turned)
    if kind == "window":
        lamps = [side]
    elif kind == "two":
        second = dict(window(rng, turned), colour=side["colour"])
        lamps = [side, dict(second, power=second["power"] * 0.5)]
    elif kind == "panel":
        sky += 0.2
        at = [rng.uniform(-400, 400), rng.uniform(-400, 400), 1900]
        lamps = [{"at": at, "size": rng.uniform(500, 1200), "colour": [1, 1, 0.95], "power": 5000.0}]
    elif kind == "flash":
        distance = np.linalg.norm(camera.place)
        flash = {
            "at": (camera.place + 12 * camera.axes[:, 0]).tolist(),
            "size": 6,
            "colour": [1, 1, 1],
            "power": 1400 * (distance / 1000) ** 2,
        }
        lamps = [flash, dict(side, power=side["power"] * rng.uniform(0.05, 0.3))]
    else:
        raise ValueError(f"light {kind}: needed is one of {', '.join(KINDS)}")
    return {"lights": lamps, "sky": sky, "sky_colour": colour}
