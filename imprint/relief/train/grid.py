"""The grid that imprints are drawn on, and random numbers shaped to broadcast over it.

Lengths are in mm, angles in rad.  Axes are the frame's: x right, y down (front up), depth positive
downward, z = -depth. Three nested grids of 2 mm cells, all centred on the frame's window:
  relief   (GY, GX) = (120, 160)  x in +-159, y in +-119: what lies under the frame shades the window, too
  shaded   (CY, CX) = (84, 120)   x in +-119, y in +-83: where light is worked out
  window   (64, 104)              x in +-103, y in +-63: what a net sees
"""
import math

import torch
import torch.nn.functional as F

device = "cuda" if torch.cuda.is_available() else "cpu"
PI = math.pi
STEP = 2.0
GX, GY = 160, 120
CX, CY = 120, 84
PX, PY = (GX - CX) // 2, (GY - CY) // 2  # cells from the relief's edge to the shaded part's
WX, WY = 106.0, 70.0  # the frame's window, half width and half height; the frame ends at 132, 96

relief_x = torch.arange(-159, 160, STEP, device=device)
relief_y = torch.arange(-119, 120, STEP, device=device)
Yg, Xg = torch.meshgrid(relief_y, relief_x, indexing="ij")
OY, OX = torch.meshgrid(
    torch.arange(-63, 64, STEP, device=device), torch.arange(-103, 104, STEP, device=device), indexing="ij"
)
UNDER = (
    ((Xg.abs() > WX) | (Yg.abs() > WY)) & (Xg.abs() < 132) & (Yg.abs() < 96)
)  # cells under the frame's card


def crop(relief):
    """(..., GY, GX) -> its shaded part (..., CY, CX)."""
    return relief[..., PY : PY + CY, PX : PX + CX]


Xs, Ys = crop(Xg).contiguous(), crop(Yg).contiguous()
OPEN = (Xs.abs() < WX) & (Ys.abs() < WY)  # shaded cells that the card leaves open


# One number an imprint, (B, 1, 1), so that it broadcasts over a grid.
def uniform(B, low, high):
    return torch.rand(B, 1, 1, device=device) * (high - low) + low


def log_uniform(B, low, high):
    return torch.exp(uniform(B, math.log(low), math.log(high)))


def normal(B, sd):
    return torch.randn(B, 1, 1, device=device) * sd


def chance(B, p):
    """1.0 with probability p, else 0.0."""
    return (torch.rand(B, 1, 1, device=device) < p).float()


def both_sides(B, low, high, jitter, crooked):
    """One number an imprint and the two sides' own, near it: a rider's left and right are much alike,
    seldom the same."""
    middle = uniform(B, low, high)
    return [middle + normal(B, jitter) * crooked for _ in (0, 1)]


def per_photo(imprint, photos):
    """What holds for an imprint, for each of its photos: (B, ...) -> (B * photos, ...)."""
    return imprint.repeat_interleave(photos, 0) if photos > 1 else imprint


def smooth_noise(B, cells, height=GY, width=GX):
    """(B, height, width) smooth noise of unit deviation with about `cells` bumps along the width."""
    noise = torch.randn(B, 1, max(2, int(cells * height / width)), cells, device=device)
    noise = F.interpolate(noise, (height, width), mode="bicubic", align_corners=True)[:, 0]
    return noise / noise.flatten(1).std(1).view(-1, 1, 1)


def gaussian_blur(image, sd, margin=20):
    """(B, h, w) blurred by sd (B, 1, 1) in mm; beyond its edge an image goes on as it ends, for margin
    cells."""
    height, width = image.shape[1:]
    padded = F.pad(image[:, None], [margin] * 4, mode="replicate")[:, 0]
    fy = torch.fft.fftfreq(padded.shape[1], STEP, device=device).view(1, -1, 1)
    fx = torch.fft.rfftfreq(padded.shape[2], STEP, device=device).view(1, 1, -1)
    keep = torch.exp(-2 * (PI * sd) ** 2 * (fx**2 + fy**2))
    blurred = torch.fft.irfft2(torch.fft.rfft2(padded) * keep, s=padded.shape[1:])
    return blurred[:, margin : margin + height, margin : margin + width]


def sample(image, X, Y):
    """Bilinear reading of (B, h, w) at X, Y in mm; the image is centred on the window's middle and has
    cells of STEP."""
    at = torch.stack([X / (image.shape[-1] - 1.0), Y / (image.shape[-2] - 1.0)], -1)
    return F.grid_sample(image[:, None], at, align_corners=True, padding_mode="border")[:, 0]
