"""From the light on the sensor to the picture that a phone saves."""
from dataclasses import asdict, dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Processing:
    """What a phone does to its pictures; sigmas and radii in px of the saved picture."""

    denoise: bool
    lift: float  # of shadows, local tone: 0 none
    sharpen: float  # unsharp mask: amount, 0 none
    radius: float  # and its Gaussian's sigma
    quality: int  # of the JPEG file


def draw(rng, processed):
    """A phone's processing drawn at random; a plain one only saves."""
    quality = int(rng.integers(70, 97))
    if not processed:
        return Processing(False, 0.0, 0.0, 1.0, quality)
    return Processing(
        bool(rng.random() < 0.7),
        float(rng.uniform(0, 0.45)),
        float(rng.uniform(0, 2)),
        float(rng.uniform(0.7, 2.5)),
        quality,
    )


def linear(encoded):
    """sRGB values 0 to 1 as light (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4).astype(
        np.float32
    )


def encoded(light):
    """Light 0 to 1 as sRGB values.

    >>> bool(np.allclose(linear(encoded(np.array([.001, .2, 1.]))), [.001, .2, 1.], atol=1e-6))
    True
    """
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def expose(rng, light, blur):
    """The sRGB picture of linear light (blue, green, red): vignetting, exposure, blur (px), noise, tone."""
    rows, columns = light.shape[:2]
    row, column = np.ogrid[0:rows, 0:columns]
    off = ((column - columns / 2) ** 2 + (row - rows / 2) ** 2) / (columns / 2) ** 2
    light = light * (1 - rng.uniform(0.02, 0.18) * off).astype(np.float32)[..., None]
    bright = max(1e-4, float(np.percentile(light[::4, ::4, 1], 98.5)))
    light = light * float(linear(np.array(rng.uniform(0.68, 0.97))) / bright)
    light = light * np.array([rng.uniform(0.85, 1.12), 1, rng.uniform(0.85, 1.12)], np.float32)
    light = cv2.GaussianBlur(np.minimum(light, 1.6), (0, 0), blur)
    noise = rng.uniform(0.004, 0.016) * np.sqrt(np.maximum(light, 0) + 0.01) + 0.0015
    light = light + rng.standard_normal(light.shape, np.float32) * noise.astype(np.float32)
    picture = encoded(np.clip(light, 0, 1)).astype(np.float32)
    return 0.88 * picture + 0.12 * picture * picture * (3 - 2 * picture)


def process(picture, processing):
    """What the phone makes of a picture (sRGB, 0 to 1): denoised, shadows lifted, then sharpened."""
    if processing.denoise:
        picture = cv2.bilateralFilter(picture, 7, 0.04, 3)
    if processing.lift:
        around = cv2.GaussianBlur(
            cv2.resize(picture.mean(-1), None, fx=1 / 8, fy=1 / 8, interpolation=cv2.INTER_AREA),
            (0, 0),
            picture.shape[1] / 12 / 8,
        )
        around = cv2.resize(around, picture.shape[1::-1], interpolation=cv2.INTER_CUBIC)
        picture = np.clip(picture + (processing.lift * 0.5 * (0.5 - around))[..., None], 0, 1)
    if processing.sharpen:
        picture = picture + processing.sharpen * (
            picture - cv2.GaussianBlur(picture, (0, 0), processing.radius)
        )
    return np.clip(picture, 0, 1)


def bytes_of(picture):
    """A picture of values 0 to 1 as bytes."""
    return (np.clip(picture, 0, 1) * 255 + 0.5).astype(np.uint8)


def for_truth(processing):
    """The processing as truth.jsonl holds it."""
    return {k: round(v, 3) if isinstance(v, float) else v for k, v in asdict(processing).items()}
