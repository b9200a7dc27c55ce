"""Stains, dirt, print and fabric: what darkens a pad without any depth."""
import torch

from grid import CX, CY, Xs, Ys, chance, log_uniform, normal, smooth_noise, uniform


def paint(B, n):
    """Factors on the pad's brightness, (B, CY, CX).  Where n (B,), the number of dents, is less than two,
    there are often dark stains, some of them in the dents' places: what a flat pad must not be taken
    for."""
    fall, cloud = uniform(B, 0.4, 0.65), 0  # from broad clouds to fine mottle
    for k, cells in enumerate((3, 6, 12, 24, 48)):
        cloud = cloud + smooth_noise(B, cells, CY, CX) * fall**k * uniform(B, 0.7, 1.3)
    cloud = cloud / cloud.flatten(1).std(1).view(-1, 1, 1)
    t = 1 - log_uniform(B, 0.01, 0.26) * (0.5 + 0.28 * cloud).clamp(0, 1)
    for _ in range(2):  # stains
        sx, sy = uniform(B, 4, 28), uniform(B, 4, 22)
        r = torch.sqrt(((Xs - uniform(B, -110, 110)) / sx) ** 2 + ((Ys - uniform(B, -75, 75)) / sy) ** 2)
        r = r + 0.12 * smooth_noise(B, 15, CY, CX)
        t = t * (1 - chance(B, 0.12) * uniform(B, -0.1, 0.35) * torch.sigmoid((1 - r) * uniform(B, 2.5, 14)))
    lone = (n < 2).float().view(B, 1, 1)
    far, drop = uniform(B, 38, 85), normal(B, 12)
    placed = chance(B, 0.5)
    for side in (-1, 1):
        x0 = torch.where(placed > 0, side * far + normal(B, 6), uniform(B, -100, 100))
        y0 = torch.where(placed > 0, drop + normal(B, 5), uniform(B, -65, 65))
        sx, sy = uniform(B, 6, 30), uniform(B, 6, 30)
        r = torch.sqrt(((Xs - x0) / sx) ** 2 + ((Ys - y0) / sy) ** 2) + uniform(B, 0, 0.2) * smooth_noise(
            B, 15, CY, CX
        )
        dark = torch.maximum(lone * chance(B, 0.55), chance(B, 0.06)) * uniform(B, 0.1, 0.75)
        t = t * (1 - dark * torch.sigmoid((1 - r) * log_uniform(B, 1.5, 25)))
    return t * (1 + smooth_noise(B, 100, CY, CX) * uniform(B, 0, 0.02))
