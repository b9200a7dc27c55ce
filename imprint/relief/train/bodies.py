"""Imprints of seated bodies, worked out from a small mechanical model: two buttocks over an oblong bony
ridge each, soft tissue and a foam that densifies, in series in every column (docs/measurement-model.md says
which bodies this holds).

What is not known is drawn wide.  Sizes of bones and tissue are assumptions in round numbers, no source (a
series of CT or MR pictures of seated people would settle them); none was fitted to a
photo. Fields are (B, GY, GX) in mm on the relief's grid; one number an imprint is (B, 1, 1). """
import torch
import torch.nn.functional as F

from grid import PI, Xg, Yg, both_sides, chance, gaussian_blur, log_uniform, normal, smooth_noise, uniform

FOAM_LIMIT, TISSUE_LIMIT = 0.95, 0.9  # strains at which foam and tissue are as good as solid
SHALLOWEST, DEEPEST = 3.0, 40.0  # mm, of an imprint that is worth reading


def soft_min(heights, tau):
    """The smallest of several fields, rounded where they meet over about tau mm."""
    return -tau * torch.logsumexp(-torch.stack(heights) / tau, 0)


def bone_height(B, x, y, spacing, crooked):
    """How far the nearer of the two bones is above its lowest point: a ridge that toes in and rises to the
    front."""
    toe, slope = both_sides(B, 0.0, 0.8, 0.06, crooked), both_sides(B, 0.1, 0.8, 0.04, crooked)
    level, back = both_sides(B, 4, 30, 1.5, crooked), both_sides(B, 10, 45, 1.5, crooked)
    across = both_sides(B, 4, 14, 0.6, crooked)
    heights = []
    for k, side in enumerate((-1, 1)):
        dx, dy = x - side * spacing / 2, y - normal(B, 2.5)
        c, s = torch.cos(toe[k]), torch.sin(toe[k])
        front, out = -dy * c - side * dx * s, side * dx * c - dy * s
        l = level[k].clamp(min=3)
        rise = slope[k].clamp(min=0.05) * (torch.sqrt(F.relu(front) ** 2 + l**2) - l)
        behind = F.relu(-front) ** 2 / (2 * back[k].clamp(min=8))
        heights.append(rise + behind + out**2 / (2 * across[k].clamp(min=4)))
    high = uniform(B, 35, 90)  # where ridge ends and pelvis begins
    return high * (1 - torch.exp(-soft_min(heights, 1.0).clamp(min=0) / high))


def skin_height(B, x, y, crooked):
    """How far the unloaded skin is above its lowest point: two buttocks and two thighs that part toward the
    front."""
    apart, behind = both_sides(B, 38, 90, 2, crooked), both_sides(B, -12, 30, 2, crooked)
    wide, long_ = both_sides(B, 50, 200, 3, crooked), both_sides(B, 55, 200, 3, crooked)
    leg_apart, leg_turn = both_sides(B, 50, 115, 3, crooked), both_sides(B, -0.05, 0.5, 0.03, crooked)
    leg_wide, leg_up = both_sides(B, 45, 100, 3, crooked), both_sides(B, 3, 40, 2, crooked)
    leg_slope = uniform(B, -0.05, 0.3)
    heights = []
    for k, side in enumerate((-1, 1)):
        dx, dy = x - side * apart[k], y - behind[k]
        heights.append(dx**2 / (2 * wide[k].clamp(min=40)) + dy**2 / (2 * long_[k].clamp(min=45)))
        front = F.relu(-y)
        dx = x - side * (leg_apart[k] + leg_turn[k] * front)
        leg = dx**2 / (2 * leg_wide[k].clamp(min=40)) + leg_up[k].clamp(min=1) + leg_slope * front
        heights.append(leg + F.relu(y) ** 2 / 60)
    height = soft_min(heights, uniform(B, 2, 8))
    return height - height.flatten(1).amin(1).view(B, 1, 1)


def foam_share(overlap, tissue, foam, ratio):
    """How much f of an overlap o the foam gives way by, the tissue by the rest: E_f e_f / (1 - e_f / 0.95)
    = E_t e_t / (1 - e_t / 0.9), e the strains, ratio E_f / E_t; tissue and foam are thicknesses.  A
    quadratic in f."""
    a, b = ratio / foam, 1 / tissue  # stiffness of either layer, up to a common factor
    m, n = 1 / (TISSUE_LIMIT * tissue), 1 / (FOAM_LIMIT * foam)
    linear = a * (1 - m * overlap) + b * (1 + n * overlap)
    root = torch.sqrt((linear**2 + 4 * (a * m - b * n) * b * overlap).clamp(min=0))
    f = 2 * b * overlap / (linear + root).clamp(min=1e-9)
    most = torch.minimum(overlap, 0.999 * FOAM_LIMIT * foam)
    return torch.minimum(torch.maximum(f, (overlap - 0.999 * TISSUE_LIMIT * tissue).clamp(min=0)), most)


def seat(B):
    """B bodies on pads: how far the foam is pressed (mm), its stress (foam's modulus = 1), and the middle's
    x and y."""
    spacing = (120 + normal(B, 20)).clamp(76, 176)
    yaw, cx, cy = normal(B, 0.06), normal(B, 8), normal(B, 12)
    crooked = torch.where(chance(B, 0.2) > 0, 4.0, 1.0)
    warp = uniform(B, 0, 3.0) * chance(B, 0.5)
    X, Y = Xg - cx + warp * smooth_noise(B, 7), Yg - cy + warp * smooth_noise(B, 7)
    x, y = X * torch.cos(yaw) + Y * torch.sin(yaw), -X * torch.sin(yaw) + Y * torch.cos(yaw)
    skin, thin = skin_height(B, x, y, crooked), log_uniform(B, 10, 50)
    tissue = (thin + bone_height(B, x, y, spacing, crooked) - skin).clamp(6, 120)
    roll = torch.where(chance(B, 0.25) > 0, normal(B, 0.08), normal(B, 0.015))  # sitting on one side
    foam, ratio = log_uniform(B, 10, 80), log_uniform(B, 0.08, 3)
    sink = uniform(B, 0.3, 0.9) * foam + uniform(B, 0.3, 0.8) * thin
    pressed = foam_share((sink - skin - roll * x).clamp(min=0), tissue, foam, ratio)
    strain = pressed / foam
    return pressed, strain / (1 - strain / FOAM_LIMIT), cx, cy


def recovered(B, pressed):
    """The imprint that is left: the foam's skin spreads it, and it recovers in part, not everywhere alike."""
    left = gaussian_blur(pressed, uniform(B, 2, 11))
    peak = left.flatten(1).amax(1).view(B, 1, 1).clamp(min=1e-3)
    uneven = (1 + uniform(B, 0, 0.12) * chance(B, 0.6) * smooth_noise(B, 4)).clamp(0.5, 1.5)
    left = uniform(B, 0.35, 0.95) * peak * (left / peak).clamp(min=0) ** uniform(B, 0.8, 1.5) * uneven
    left = gaussian_blur(left, uniform(B, 0.5, 4))
    peak = left.flatten(1).amax(1).view(B, 1, 1).clamp(min=1e-3)
    return left * peak.clamp(SHALLOWEST, DEEPEST) / peak


def imprints(B):
    """Surfaces of pads that bodies sat on, as the body alone leaves them, with the middle's x and y."""
    pressed, _, cx, cy = seat(B)
    return recovered(B, pressed) + smooth_noise(B, 6) * uniform(B, 0.03, 0.4), cx, cy


def pressures(B):
    """The same bodies' pressure on a sheet, its peak 6 to 24 as the dents for ink have, with the middle's
    x."""
    _, stress, cx, _ = seat(B)
    spread = gaussian_blur(stress, uniform(B, 2, 9))
    peak = spread.flatten(1).amax(1).view(B, 1, 1).clamp(min=1e-6)
    return uniform(B, 6, 24) * spread / peak, cx


def cloth(B, depth):
    """What trousers press into a pad beside the body: seams, a pocket's edge, folds.  None of it moves the
    truth."""
    for _ in range(3):
        angle, at, bend = uniform(B, 0, PI), normal(B, 45), normal(B, 0.002)
        off = Xg * torch.cos(angle) + Yg * torch.sin(angle) - at
        along = Yg * torch.cos(angle) - Xg * torch.sin(angle)
        off = off + bend * along**2
        width, height = uniform(B, 1.2, 3.5), chance(B, 0.35) * normal(B, 0.7)
        seam = torch.exp(-0.5 * (off / width) ** 2)
        edge = torch.sigmoid(off / width) * torch.sigmoid((uniform(B, 25, 70) - off) / 4)  # a pocket
        depth = depth + height * torch.where(chance(B, 0.3) > 0, 0.6 * edge, seam)
    return depth
