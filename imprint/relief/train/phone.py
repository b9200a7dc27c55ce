"""The phone: where it stands, what it sees through the frame's plane, and how it turns light into a picture.

A camera is its foot point C = (Cx, Cy) on the frame's plane and its height H above it, mm, each (B, 1, 1).
Points are (B, 2, 2): side, then x and y."""
import torch
import torch.nn.functional as F

from processing import processed
from grid import (
    CX, CY, OX, OY, PI, UNDER, Xs, Ys, chance, crop, device, log_uniform, normal, per_photo, sample,
    smooth_noise, uniform,
)

LEVEL = 10.0  # mm below the frame's plane, of the plane on which foam is resampled


def camera(B, photos=1):
    """Where the phone is: H and C of B * photos pictures, by tilt up to about 35 degrees.  Of several
    photos of an imprint most are taken as the tool asks, from above and from either side at some 20
    degrees, in any order."""
    H = log_uniform(B * photos, 200, 1100)
    tilt, toward = normal(B * photos, 0.21).clamp(-0.61, 0.61), uniform(B * photos, 0, 2 * PI)
    if photos > 1:
        asked = per_photo(chance(B, 0.7), photos) > 0
        across = per_photo(torch.where(chance(B, 0.75) > 0, normal(B, 0.3), uniform(B, 0, 2 * PI)), photos)
        side = torch.rand(B, photos, device=device).argsort(1).view(-1, 1, 1) % 3 - 1.0
        H = torch.where(asked, per_photo(H[::photos], photos) * torch.exp(normal(B * photos, 0.08)), H)
        tilt = torch.where(asked, (side * 0.35 + normal(B * photos, 0.08)).clamp(-0.61, 0.61), tilt)
        toward = torch.where(asked, across, toward)
    away = H * torch.tan(tilt)
    return H, (
        away * torch.cos(toward) + normal(B * photos, 12),
        away * torch.sin(toward) + normal(B * photos, 12),
    )


def known(C, H):
    """The camera as the tool will know it: the focal length is known to a few per cent."""
    B = H.shape[0]
    return (C[0] + normal(B, 3), C[1] + normal(B, 3)), H * torch.exp(normal(B, 0.04))


def view_map(C, H):
    """(B, 2, 64, 104): the horizontal offsets of the line of sight through each cell, per mm of height."""
    return torch.stack([(C[0] - OX) / H, (C[1] - OY) / H], 1)


def seen_at(X, Y, D, C, H):
    """Where a point X, Y that lies D below the frame's plane is seen on it: equation (1) of
    docs/measurement-model.md the other way."""
    f = H / (H + D)
    return C[0] + (X - C[0]) * f, C[1] + (Y - C[1]) * f


def appear(P, D, C, H):
    """Where bottoms at P, D (B, 2) deep, are seen on the frame's plane."""
    flat = lambda t: t.view(-1, 1)
    return torch.stack(seen_at(P[..., 0], P[..., 1], D, (flat(C[0]), flat(C[1])), flat(H)), -1)


def onto_level(P, C, H):
    """Points seen at P on the frame's plane, carried along their lines of sight to the plane LEVEL below
    it."""
    flat = lambda t: t.view(-1, 1)
    back = -LEVEL * flat(H) / (flat(H) + LEVEL)
    return torch.stack(seen_at(P[..., 0], P[..., 1], back, (flat(C[0]), flat(C[1])), flat(H)), -1)


def to_plane(image, depth, C, H, X, Y):
    """What the camera sees through the points X, Y of the frame's plane: equation (1) solved along the line
    of sight."""
    px, py = X, Y
    for _ in range(5):
        f = (H + sample(depth, X, Y)) / H
        X, Y = C[0] + (px - C[0]) * f, C[1] + (py - C[1]) * f
    return sample(image, X, Y)


def lay_frame(B, z):
    """The frame lies on the pad's high spots, more or less flat: how far its plane is above the pad's flat
    surface, the part of it that the pad's unevenness makes, and how deep each shaded cell lies under it,
    all mm."""
    rim = z.flatten(1)[:, UNDER.flatten()][:, ::5].quantile(0.96, dim=1).view(-1, 1, 1).clamp(min=0)
    lie = rim + uniform(B, 0.1, 0.8)
    wave = uniform(B, 0, 0.8) * chance(B, 0.5) * (0.5 + 0.5 * smooth_noise(B, 5, CY, CX)).clamp(0, 1)
    return lie, rim, (lie + wave - crop(z)).clamp(min=0)


def frame_light(B, light, top):
    """ln of the light on the frame's plane as the frame's white shows it, (B, 64, 104), carried over the
    window: a quadratic through patches of a card that is a little bent and a little shiny, so it errs by
    some per cent, smoothly.  Beyond top it burns out."""
    low = torch.log(light.clamp(min=1e-3))
    low = low - F.softplus((low - torch.log(top)) * 30) / 30
    error = normal(B, 0.02) * Xs / 100 + normal(B, 0.02) * Ys / 70
    error = error + normal(B, 0.012) * (Xs / 100) ** 2 + normal(B, 0.012) * (Ys / 70) ** 2
    error = error + normal(B, 0.012) * Xs * Ys / 7000
    return sample(low * torch.exp(normal(B, 0.1)) + error, OX.expand(B, -1, -1), OY.expand(B, -1, -1))


def develop(B, image, white, grain=((0.0002, 0.003), (0.0001, 0.002))):
    """The phone's picture (B, 64, 104), read back as linear light: vignetting, exposure, tone curve, eight
    bits, noise.  white is the brightest 2 % of the picture where it is not exposed to the full; grain the
    range of the fine noise and of the coarse."""
    image = image * vignette(B)
    q = image.flatten(1)[:, ::7].quantile(0.98, dim=1).view(-1, 1, 1)
    target = torch.where(chance(B, 0.35) > 0, uniform(B, 0.75, 1.05), white)
    v = encode((image * target / q).clamp(0, 1.2))
    s = v.clamp(0, 1)
    v = v + uniform(B, -0.08, 0.35) * (s * s * (3 - 2 * s) - s)
    v = v ** uniform(B, 0.8, 1.25)
    v = (
        v
        + torch.randn_like(v) * log_uniform(B, *grain[0])
        + smooth_noise(B, 60, 64, 104) * log_uniform(B, *grain[1])
    )
    return decode(processed(B, v).clamp(0, 1))


def vignette(B):
    """How much of the light arrives over the picture: a slope and the lens's fall toward its corners."""
    slope = 1 + normal(B, 0.08) * OX / 100 + normal(B, 0.08) * OY / 70
    return slope - uniform(B, 0, 0.15) * ((OX / 100) ** 2 + (OY / 70) ** 2)


def encode(v):
    """Linear light to a picture's levels, 0 to 1 (sRGB, IEC 61966-2-1)."""
    return torch.where(v <= 0.0031308, v * 12.92, 1.055 * v.clamp(min=1e-6) ** (1 / 2.4) - 0.055)


def decode(v):
    """A picture's levels to linear light."""
    return torch.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055).clamp(min=0) ** 2.4)
