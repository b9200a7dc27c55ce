"""What a phone, a messenger and a gallery do to a picture before anybody measures it: denoising, lifted
shadows, sharpening, resizing.  Pictures are (B, h, w) levels of 0 to 1 on cells of STEP mm; settings are
(B, 1, 1).

A phone's pixels are far smaller than the cells, so what acts over a few pixels is worked out to second
order: a blur of sd s adds s^2 / 2 of the second derivative, and an unsharp mask of amount a takes a s^2 / 2
of it off. """
import torch
import torch.nn.functional as F

from grid import STEP, chance, gaussian_blur, log_uniform, smooth_noise, uniform


def laplacian(v):
    """The second derivative, per mm^2."""
    p = F.pad(v[:, None], (1, 1, 1, 1), mode="replicate")[:, 0]
    return (p[:, 1:-1, 2:] + p[:, 1:-1, :-2] + p[:, 2:, 1:-1] + p[:, :-2, 1:-1] - 4 * v) / STEP**2


def denoised(B, v):
    """Detail of a few mm that is fainter than a threshold is smoothed away, as noise is taken to be."""
    smooth = gaussian_blur(v, uniform(B, 1.2, 4))
    detail, threshold = v - smooth, log_uniform(B, 0.002, 0.03)
    return smooth + detail * (1 - uniform(B, 0, 0.9) * torch.exp(-((detail / threshold) ** 2)))


def shadows_lifted(B, v):
    """Local tone: dark surroundings are brightened and bright ones darkened, what is small against them
    keeps its contrast.  The frame round the window is white, and counts among the surroundings, or the pad
    goes on."""
    card, rim = uniform(B, 0.6, 1.0), 12
    framed = F.pad(v[:, None], [rim] * 4, mode="replicate")[:, 0]
    border = torch.ones_like(framed)
    border[:, rim:-rim, rim:-rim] = 0
    white = border * chance(B, 0.5)
    framed = framed * (1 - white) + card * white
    base = torch.log(gaussian_blur(framed, log_uniform(B, 8, 80), 30)[:, rim:-rim, rim:-rim].clamp(min=0.02))
    return v * torch.exp(-uniform(B, 0, 0.5) * (base - base.flatten(1).mean(1).view(B, 1, 1)))


def sharpened(B, v, pixel):
    """An unsharp mask of amount 0 to 2 and radius 0.7 to 2.5 px, pixel mm each."""
    strength = uniform(B, 0, 2) * (uniform(B, 0.7, 2.5) * pixel) ** 2 / 2
    return v - strength.clamp(max=0.12 * STEP**2) * laplacian(v)


def resized(B, v, pixel):
    """Made smaller by a messenger or a gallery, and compressed once more: blur, and noise in blocks of 8
    pixels."""
    v = v + (uniform(B, 0.3, 1.0) * pixel) ** 2 / 2 * laplacian(v)
    return v + smooth_noise(B, 52, *v.shape[1:]) * log_uniform(B, 0.0003, 0.006)


def processed(B, v):
    """A picture's levels after all of this, each step in some of the pictures only."""
    some = lambda p, changed, v: torch.where(chance(B, p) > 0, changed, v)
    v = some(0.5, denoised(B, v), v)
    v = some(0.5, shadows_lifted(B, v), v)
    v = some(0.6, sharpened(B, v, log_uniform(B, 0.06, 0.35)), v)
    return some(0.3, resized(B, v, log_uniform(B, 0.2, 1.0)), v)
