"""Scans of marked paper drawn at random: no lamp, no camera, the paper's white known.

What a scan holds of a mark's middle is told by its whole outline, so the laws that turn pressure into ink are
drawn wide: any curve that rises with pressure and saturates, grain of any size, paper that ends in the mark.
recipe.py says what the axes, the grid and the answer's tensors are."""
import torch
import torch.nn.functional as F

from grid import OX, OY, PI, Xg, Yg, chance, device, log_uniform, normal, sample, smooth_noise, uniform
from shapes import counts, pressures

BODY = 0.65  # share of scans with two marks that are a body's
THINNEST = 3.0  # mm of foam under a sheet: a mat on a bench
BLUNT = 0.3  # bones are as blunt or pointed as a power of 1 -+ this makes them


def response(B, above):
    """Ink (B, GY, GX), 0 to 1, under a pressure from 0 to 1: a mean of curves that rise and saturate (a^n /
    (a^n + c^n), as Hill's), each as steep and as soon as chance has it."""
    ink, whole = 0, 0
    for _ in range(3):
        weight, c, n = -torch.log(uniform(B, 0.01, 1)), log_uniform(B, 0.05, 2), uniform(B, 0.7, 3)
        power = above**n
        ink, whole = ink + weight * power / (power + c**n), whole + weight / (1 + c**n)
    return ink / whole


def grain(B, ink, share):
    """What paper and capsules add to the ink of a cell (2 mm): whole where the pressure, a share of the
    highest, is a few tenths and more, hardly any where there is none."""
    white = torch.randn_like(ink)
    other = torch.randn_like(ink)
    field = white * uniform(B, 0, 0.07)
    for bumps, most in ((120, 0.06), (60, 0.06), (25, 0.03)):
        field = field + smooth_noise(B, bumps) * uniform(B, 0, most)
    burst = chance(B, 0.5) * uniform(B, 0, 0.15) * torch.sqrt((ink * (1 - ink)).clamp(min=0))
    return field * (share * uniform(B, 2, 10)).clamp(0.1, 1) + burst * other


def spoiled(B, density):
    """The density with what a sheet goes through: a second mark where the rider slid, smears, a finger's
    print."""
    slid, sx, sy = chance(B, 0.25) * uniform(B, 0.25, 0.8), uniform(B, -7, 7), uniform(B, -5, 5)
    density = torch.maximum(density, slid * sample(density, Xg - sx, Yg - sy))
    smear, angle, run = chance(B, 0.15) * uniform(B, 0.1, 0.5), uniform(B, 0, 2 * PI), uniform(B, 3, 14)
    for k in range(1, 4):
        dx, dy = run * k / 3 * torch.cos(angle), run * k / 3 * torch.sin(angle)
        density = torch.maximum(density, smear * (1 - k / 4) * sample(density, Xg - dx, Yg - dy))
    fx, fy = (Xg - uniform(B, -100, 100)) / uniform(B, 3, 12), (Yg - uniform(B, -66, 66)) / uniform(B, 3, 12)
    finger = chance(B, 0.12) * uniform(B, 0.1, 0.6) * torch.sigmoid((1 - torch.sqrt(fx**2 + fy**2)) * 6)
    return torch.maximum(density, finger)


def on_sheet(B):
    """Where each cell of the window is read (B, 64, 104) x and y: a sheet may end in it, turned a little, and
    then goes on as it ends, which is how the tool fills what lies beyond."""
    turn, small = normal(B, 0.05), chance(B, 0.4) > 0
    half_x = torch.where(small, uniform(B, 78, 112), torch.full_like(turn, 1e3))
    half_y = torch.where(small, uniform(B, 48, 80), torch.full_like(turn, 1e3))
    c, s, mx, my = torch.cos(turn), torch.sin(turn), normal(B, 6), normal(B, 6)
    x, y = (OX - mx) * c + (OY - my) * s, -(OX - mx) * s + (OY - my) * c
    x, y = torch.minimum(torch.maximum(x, -half_x), half_x), torch.minimum(torch.maximum(y, -half_y), half_y)
    return x * c - y * s + mx, x * s + y * c + my


def scan(B):
    """B scans: a dict as recipe.py's ink() gives it."""
    count, on = counts(B)
    pressure, centre, depth, flat, oblong = pressures(B, count, on, BODY, THINNEST, BLUNT)
    peak = pressure.flatten(1).amax(1).view(B, 1, 1).clamp(min=1.0)
    cloth = smooth_noise(B, 16) * uniform(B, 0, 0.03) + smooth_noise(B, 45) * uniform(B, 0, 0.03)
    share = (pressure / peak).clamp(min=0) * (1 + cloth)
    least = log_uniform(B, 0.005, 0.35)
    ink = response(B, ((share - least) / (1 - least)).clamp(min=0)) * uniform(B, 0.4, 1)
    density = spoiled(B, F.relu(ink + grain(B, ink, share))).clamp(0, 1)
    tint = uniform(B, 0.05, 0.7) ** 2.2
    shade = uniform(B, 0, 0.02) * smooth_noise(B, 4) + normal(B, 0.01) * Xg / 100
    paper = uniform(B, 0.45, 0.95) * (1 + shade)
    light = sample(paper * (1 - density * (1 - tint)), *on_sheet(B))
    light = light + torch.randn_like(light) * uniform(B, 0, 0.004)
    return dict(
        image=light,
        view=torch.zeros(B, 2, *OX.shape, device=device),
        centre=centre,
        depth=depth * 0,
        flat=flat,
        oblong=oblong,
        count=count,
    )
