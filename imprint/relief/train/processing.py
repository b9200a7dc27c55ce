"""What a phone, a messenger and a gallery do to a picture before anybody measures it: denoising, lifted
shadows, sharpening, resizing.  Pictures are (B, h, w) levels of 0 to 1 on cells of STEP mm; settings are
(B, 1, 1).

A phone's pixels are far smaller than the cells, so what acts over a few pixels is worked out to second
order: a blur of sd s adds s^2 / 2 of the second derivative, and an unsharp mask of amount a takes a s^2 / 2
of it off. """
import torch
import torch.nn.functional as F

from grid import STEP, chance, gaussian_blur, log_uniform, smooth_noise, uniform

CARD, TABLE = 13, 20  # cells: the width of the frame's card, and of what counts of the table beyond it


def laplacian(v):
    """The second derivative, per mm^2."""
    p = F.pad(v[:, None], (1, 1, 1, 1), mode="replicate")[:, 0]
    return (p[:, 1:-1, 2:] + p[:, 1:-1, :-2] + p[:, 2:, 1:-1] + p[:, :-2, 1:-1] - 4 * v) / STEP**2


def denoised(B, v):
    """Detail of a few mm that is fainter than a threshold is smoothed away, as noise is taken to be."""
    smooth = gaussian_blur(v, uniform(B, 1.2, 4))
    detail, threshold = v - smooth, log_uniform(B, 0.002, 0.03)
    return smooth + detail * (1 - uniform(B, 0, 0.9) * torch.exp(-((detail / threshold) ** 2)))


def with_card(B, v):
    """The picture with the frame's card and the table round it, each of one level; in four of ten the pad
    goes on instead, as for a phone that tells one thing from another."""
    height, width = v.shape[1:]
    framed = F.pad(v[:, None], [CARD + TABLE] * 4, mode="replicate")[:, 0]
    card, table = torch.zeros_like(framed), torch.zeros_like(framed)
    table[:], card[:, TABLE:-TABLE, TABLE:-TABLE] = 1, 1
    for ring in (card, table):
        ring[:, CARD + TABLE :, CARD + TABLE :][:, :height, :width] = 0
    around = uniform(B, 0.05, 0.9) * (table - card) + uniform(B, 0.45, 1.0) * card
    return torch.where((table > 0) & (chance(B, 0.6) > 0), around, framed)


def surroundings(B, v):
    """The level of each cell's surroundings, some 5 to 80 mm wide: a sixtieth to a tenth of a picture, and
    more.  In every third picture their edges are kept (He and others, Guided Image Filtering, 2013, from
    memory: a cell's level is a line in the picture's own, fitted around it)."""
    framed, sd = with_card(B, v), log_uniform(B, 5, 80)
    blurred = lambda t: gaussian_blur(t, sd, 30)
    mean = blurred(framed)
    var = (blurred(framed**2) - mean**2).clamp(min=0)
    slope = var / (var + log_uniform(B, 3e-4, 0.03))
    kept = blurred(slope) * framed + blurred(mean * (1 - slope))
    base = torch.where(chance(B, 0.35) > 0, kept, mean)
    rim = CARD + TABLE
    return base[:, rim:-rim, rim:-rim].clamp(0.02, 1)


def tone_of(B, base):
    """What local tone makes of the level of the surroundings: drawn toward a middle level, or their mean;
    brighter by a power; or the shadows alone lifted.  In half of the pictures highlights are pulled down."""
    mean = base.flatten(1).mean(1).view(B, 1, 1)
    middle = base + uniform(B, -0.1, 0.5) * (uniform(B, 0.3, 0.7) - base)
    ratio = base * (base / mean) ** -uniform(B, 0, 0.6)
    power = base ** uniform(B, 0.45, 1.05)
    shadows = base + uniform(B, 0, 0.25) * torch.exp(-((base / uniform(B, 0.1, 0.4)) ** 2))
    kind = uniform(B, 0, 4)
    toward = torch.where(kind < 1, middle, ratio)
    lifted = torch.where(kind < 2, toward, torch.where(kind < 3, power, shadows))
    pulled = uniform(B, 0, 0.7) * chance(B, 0.5) * (base - uniform(B, 0.5, 0.9)).clamp(min=0)
    return (lifted - pulled).clamp(min=0.01)


def shadows_lifted(B, v):
    """Local tone: dark surroundings are brightened and bright ones darkened.  What is small against them
    keeps its contrast in levels, or in their ratio."""
    base = surroundings(B, v)
    toned = tone_of(B, base)
    return torch.where(chance(B, 0.5) > 0, v + toned - base, v * (toned / base).clamp(0.3, 3))


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
    v = some(0.65, shadows_lifted(B, v), v)
    v = some(0.6, sharpened(B, v, log_uniform(B, 0.06, 0.35)), v)
    return some(0.3, resized(B, v, log_uniform(B, 0.2, 1.0)), v)
