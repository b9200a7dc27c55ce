"""Surfaces of pads drawn at random: dents of seven families in a soft-tissue basin, what else a pad shows,
and the truth.

A surface is depth (B, GY, GX) in mm, positive downward, counted from the pad's flat surface.  Where a
function has one entry for either side it is a list of two (left, right) or a last axis of two."""
import math

import torch
import torch.nn.functional as F

import bodies
from grid import (
    GX, GY, PI, STEP, Xg, Yg, both_sides, chance, device, normal, relief_x, relief_y, smooth_noise,
    uniform,
)

FAMILIES = ("bell", "hertz", "lorentz", "ridge", "cap", "lobes", "flat")
ROUNDED = (
    6.5  # mm: the flat radius of a dent that did not bottom out counts as this at most, however gentle it is
)
OUTSIDE = 1e3  # mm: where a centre is put that is none, outside of any window
BODY = 0.4  # share of imprints with two dents that are a body's
BOTTOMED = FAMILIES.index("flat")  # pads that bottomed out on the board below
MIX = {  # how often each family is drawn, in the order of FAMILIES
    "foam": torch.tensor((2.4, 1.6, 0.7, 1.7, 0.7, 0.6, 1.5), device=device),
    "ink": torch.tensor((3.0, 1.2, 0.8, 0.8, 0.5, 0.5, 0.0), device=device),
}


def profiles(family, B, crooked):
    """A function of side k, u (along), v (across) and r2 = (u/a)^2 + (v/b)^2 that gives the dent's own
    shape, 1 at its middle: families of what a bone, a fold of cloth and a foam can make.  family is (B, 1,
    1), an index of FAMILIES.  The right side is the left one's mirror image, nearly."""
    power = both_sides(B, 0.75, 1.6, 0.04, crooked)
    radius = both_sides(B, 1.0, 1.6, 0.04, crooked)
    fall = both_sides(B, 1.0, 2.0, 0.05, crooked)
    ridge_along, ridge_across = both_sides(B, 20, 34, 1, crooked), both_sides(B, 8.5, 14, 0.5, crooked)
    ridge_power, ridge_tilt = both_sides(B, 2.2, 4, 0.1, crooked), both_sides(B, -0.3, 0.3, 0.05, crooked)
    cap_at = both_sides(B, 2.2, 4.0, 0.1, crooked)
    lobe_angle, lobe_far = both_sides(B, 0, 2 * PI, 0.2, crooked), both_sides(B, 7, 17, 0.7, crooked)
    lobe_share, lobe_width = both_sides(B, 0.2, 0.8, 0.05, crooked), both_sides(B, 7, 13, 0.4, crooked)

    def shape(k, u, v, r2):
        bell = torch.exp(-0.5 * (r2 + 1e-6) ** power[k].clamp(min=0.6))
        t = torch.sqrt(r2 + 1e-6) / radius[k].clamp(
            min=0.8
        )  # a ball pressed into a half space (Hertz; see imprint/ink/surface.go)
        o = t.clamp(min=1.0)
        beyond = ((2 - o * o) * torch.asin(1 / o) + torch.sqrt((o * o - 1).clamp(min=0))) / PI
        hertz = torch.where(t <= 1, 1 - t * t / 2, beyond)
        lorentz = 1 / (1 + r2 * 0.55) ** fall[k]
        along = (u / ridge_along[k]).abs() ** ridge_power[k].clamp(min=1.5)
        ridge = torch.exp(-0.5 * along - 0.5 * (v / ridge_across[k]) ** 2) * (
            1 + ridge_tilt[k] * torch.tanh(u / 18)
        )
        cap = F.softplus((1 - r2 / cap_at[k].clamp(min=1.5)) * 6) / math.log1p(
            math.exp(6.0)
        )  # with a soft rim
        lu, lv = u - lobe_far[k] * torch.cos(lobe_angle[k]), v - lobe_far[k] * torch.sin(lobe_angle[k])
        lobes = torch.exp(-0.5 * r2) + lobe_share[k] * torch.exp(
            -0.5 * (lu**2 + lv**2) / lobe_width[k] ** 2
        )
        p = bell
        for index, other in ((5, lobes), (4, cap), (3, ridge), (2, lorentz), (1, hertz)):
            p = torch.where(family == index, other, p)
        return p

    return shape


def dents(B, on, mix):
    """Two dents in their basin, the sides switched by on (B, 2).  Returns depth, the middle's x and y, the
    family, the dents' own depth and their distance, all but the first (B, 1, 1)."""
    spacing = (120 + normal(B, 20)).clamp(76, 176)
    yaw, cx, cy = normal(B, 0.06), normal(B, 8), normal(B, 10)
    depth = torch.zeros(B, GY, GX, device=device)
    deep, ratio = uniform(B, 4, 17), torch.exp(normal(B, 0.16))
    basin = uniform(B, 0, 9)
    family = torch.multinomial(MIX[mix], B, replacement=True).view(B, 1, 1)
    crooked = torch.where(chance(B, 0.15) > 0, 4.0, 1.0)
    c, s = torch.cos(yaw), torch.sin(yaw)
    warp = uniform(B, 0, 2.0) * chance(B, 0.4)
    warped_x, warped_y = Xg + warp * smooth_noise(B, 9), Yg + warp * smooth_noise(
        B, 9
    )  # nothing in life is an ellipse
    shape = profiles(family, B, crooked)
    short, long_, toe = (
        both_sides(B, *r, crooked) for r in ((9, 18, 0.6), (1.0, 1.85, 0.06), (-0.1, 0.75, 0.08))
    )
    skew_u, skew_v = both_sides(B, -0.15, 0.15, 0.04, crooked), both_sides(B, -0.1, 0.1, 0.03, crooked)
    basin_out, basin_down = both_sides(B, -3, 17, 1.5, crooked), both_sides(B, -6, 12, 2, crooked)
    basin_x, basin_y = both_sides(B, 34, 65, 2.5, crooked), both_sides(B, 34, 61, 2.5, crooked)
    for k, side in enumerate((-1, 1)):
        hy = normal(B, 2.5)
        px, py = cx + side * spacing / 2 * c - hy * s, cy + side * spacing / 2 * s + hy * c
        angle = PI / 2 + side * toe[k] + yaw
        ca, sa = torch.cos(angle), torch.sin(angle)
        dx, dy = warped_x - px, warped_y - py
        u, v = dx * ca + dy * sa, side * (-dx * sa + dy * ca)
        u, v = u * (1 + skew_u[k] * torch.tanh(u / 20)), v * (1 + skew_v[k] * torch.tanh(v / 15))
        m = short[k].clamp(min=7)
        p = shape(k, u, v, (u / (m * long_[k].clamp(min=1))) ** 2 + (v / m) ** 2)
        w = on[:, k].view(B, 1, 1)
        depth = depth + w * deep * (ratio if side > 0 else 1) * p
        bx, by = (Xg - px - side * basin_out[k]) / basin_x[k].clamp(min=25), (
            Yg - py - basin_down[k]
        ) / basin_y[k].clamp(min=25)
        depth = depth + w * basin * torch.exp(-0.5 * (bx**2 + by**2))
    depth = torch.where(family == BOTTOMED, bottomed_out(depth, on, cx), depth)
    return depth, cx, cy, family, deep, spacing


def bottomed_out(depth, on, cx):
    """The surface over a pad that bottoms out on the board below: a soft ceiling at or under the shallower
    dent."""
    B = depth.shape[0]
    half = [
        torch.where((Xg - cx) * side > 8, depth, torch.zeros_like(depth)).flatten(1).amax(1)
        for side in (-1, 1)
    ]
    half = torch.stack(half, 1)
    low = torch.where(on > 0, half, torch.full_like(half, 1e3)).amin(1).clamp(max=40).view(B, 1, 1)
    ceiling, w = low * uniform(B, 0.72, 0.97), uniform(B, 0.2, 0.6)
    capped = ceiling - w * F.softplus((ceiling - depth) / w)
    return capped - (ceiling - w * F.softplus(ceiling / w))


def clutter(B, depth, cx, cy, uneven=True):
    """What else a counter's pad shows: finger and tail-bone dents, seams, folds, an old imprint,
    unevenness."""

    def bump(x0, y0):
        return (Xg - x0) ** 2 + (Yg - y0) ** 2

    fx, fy = uniform(B, -98, 98), uniform(B, -66, 66)
    finger = chance(B, 0.3) * uniform(B, 0.8, 3.5)
    depth = depth + finger * torch.exp(-0.5 * bump(fx, fy) / uniform(B, 3.5, 7) ** 2)
    tail_bone = chance(B, 0.25) * uniform(B, 0.8, 3.5)
    depth = depth + tail_bone * torch.exp(
        -0.5 * bump(cx + normal(B, 5), cy + uniform(B, 33, 56)) / uniform(B, 6, 11) ** 2
    )
    for _ in range(2):
        angle = torch.where(chance(B, 0.5) > 0, normal(B, 0.35), uniform(B, 0, PI))
        off = (Xg - cx - normal(B, 30)) * torch.cos(angle) + (Yg - normal(B, 25)) * torch.sin(angle)
        off = off + 0.002 * normal(B, 1) * (Xg * torch.sin(angle)) ** 2
        w = uniform(B, 1.5, 3.2)
        depth = depth + chance(B, 0.25) * normal(B, 0.9) * torch.exp(
            -0.5 * (off / w) ** 2
        )  # a seam or a fold
    old = chance(B, 0.15) * uniform(B, 0.3, 1.5)  # what foam kept of the rider before
    old_spacing, old_x, old_y = 120 + normal(B, 18), cx + normal(B, 14), cy + normal(B, 14)
    for side in (-1, 1):
        depth = depth + old * torch.exp(
            -0.5 * bump(old_x + side * old_spacing / 2, old_y) / uniform(B, 10, 22) ** 2
        )
    if not uneven:
        return depth
    return depth + smooth_noise(B, 6) * uniform(B, 0.05, 0.4) + smooth_noise(B, 24) * uniform(B, 0, 0.12)


_dy, _dx = [
    v.flatten().float() for v in torch.meshgrid(torch.arange(-2, 3), torch.arange(-2, 3), indexing="ij")
]
QUADRATIC = torch.linalg.pinv(torch.stack([torch.ones(25), _dx, _dy, _dx * _dx, _dx * _dy, _dy * _dy], 1)).to(
    device
)


def summit(depth, i, j):
    """Offsets in cells, (B,) each, from the cell (j, i) to the top of the quadratic through the 25 cells
    round it; 0 where that has no top within two cells."""
    b = torch.arange(depth.shape[0], device=device)
    cells = torch.stack([depth[b, j + dj, i + di] for dj in range(-2, 3) for di in range(-2, 3)], 1)
    q = cells @ QUADRATIC.T  # 1, x, y, x2, xy, y2 in cells
    det = 4 * q[:, 3] * q[:, 5] - q[:, 4] ** 2
    dx = (q[:, 4] * q[:, 2] - 2 * q[:, 5] * q[:, 1]) / det
    dy = (q[:, 4] * q[:, 1] - 2 * q[:, 3] * q[:, 2]) / det
    good = (det > 1e-6) & (q[:, 3] < 0) & (dx.abs() < 2) & (dy.abs() < 2)
    return torch.where(good, dx, torch.zeros_like(dx)), torch.where(good, dy, torch.zeros_like(dy))


def moments(weight):
    """Mean x, y and variances xx, yy, xy, (B,) each, of a weight (B, GY, GX) >= 0."""
    total = weight.flatten(1).sum(1).clamp(min=1e-3)
    mean = lambda t: (weight * t).flatten(1).sum(1) / total
    mx, my = mean(Xg), mean(Yg)
    dx, dy = Xg - mx.view(-1, 1, 1), Yg - my.view(-1, 1, 1)
    return mx, my, mean(dx**2), mean(dy**2), mean(dx * dy)


def deepest(depth, middle, family):
    """The deepest point on either side of x = middle: the top of the quadratic through the 25 cells within
    4 mm of the deepest one, since neither bone nor cloth has finer features, or the middle of the flat
    where the pad bottomed out. Returns centre (B, 2, 2), depth (B, 2), flat radius (B, 2) and oblongness
    (B, 2, 2) as recipe.py defines them."""
    B = depth.shape[0]
    kernel = torch.tensor([[1.0, 2, 1], [2, 5, 2], [1, 2, 1]], device=device)
    kernel = (kernel / kernel.sum()).view(1, 1, 3, 3)  # about 1 mm: the surface at the scale of the fabric
    surface = F.conv2d(F.pad(depth[:, None], (1, 1, 1, 1), mode="replicate"), kernel)[:, 0]
    centres, depths, radii, oblong = [], [], [], []
    grid = lambda t: t.view(B, 1, 1)
    for side in (-1, 1):
        inside = ((Xg - middle) * side > 8) & (Xg.abs() < 104) & (Yg.abs() < 66)
        at = torch.where(inside, surface, torch.full_like(surface, -1e3)).flatten(1).argmax(1)
        j, i = (at // GX).clamp(2, GY - 3), (at % GX).clamp(2, GX - 3)
        dx, dy = summit(surface, i, j)
        top = surface[torch.arange(B, device=device), j, i]
        px, py = relief_x[i] + STEP * dx, relief_y[j] + STEP * dy
        near = ((Xg - grid(px)) ** 2 + (Yg - grid(py)) ** 2 < 34**2) & inside
        flat = (
            torch.sigmoid((surface - grid(top) + 0.3) / 0.05) * near
        )  # the area within 0.3 mm of the deepest
        area = flat.flatten(1).sum(1) * STEP * STEP
        flat_x, flat_y = moments(flat)[:2]
        bottomed = (family.view(B) == BOTTOMED) & (area > 80)
        px, py = torch.where(bottomed, flat_x, px), torch.where(bottomed, flat_y, py)
        _, _, sxx, syy, sxy = moments((surface - 0.6 * grid(top)).clamp(min=0) * near)
        mean, half = (sxx + syy) / 2, torch.sqrt(((sxx - syy) / 2) ** 2 + sxy**2 + 1e-9)
        log_ratio = 0.5 * torch.log((mean + half) / (mean - half).clamp(min=1e-2))
        centres.append(torch.stack([px, py], -1))
        depths.append(top)
        radius = torch.sqrt(area / PI)
        radii.append(torch.where(bottomed, radius, radius.clamp(max=ROUNDED)))
        oblong.append(torch.stack([log_ratio * (sxx - syy) / 2 / half, log_ratio * sxy / half], -1))
    return torch.stack(centres, 1), torch.stack(depths, 1), torch.stack(radii, 1), torch.stack(oblong, 1)


def counts(B):
    """How many dents each imprint has (B,), and which sides are on (B, 2)."""
    n = torch.multinomial(torch.tensor([0.08, 0.08, 0.78, 0.06], device=device), B, replacement=True)
    left = torch.where(n == 1, (torch.rand(B, device=device) < 0.5).float(), torch.ones(B, device=device))
    on = torch.stack([left, torch.where(n == 1, 1 - left, torch.ones(B, device=device))], 1)
    return n, torch.where((n == 0)[:, None], torch.zeros_like(on), on)


def third_dent(B, n, cx, cy, deep, nearest, soft):
    """A third dent of like depth, away from both, on imprints of which n (B,) is 3; soft draws its
    exponent, too."""
    angle, far = uniform(B, 0, 2 * PI), uniform(B, 34, 60)
    tx, ty = cx + far * torch.cos(angle) * 0.35, cy + (far * torch.sin(angle)).sign() * uniform(
        B, nearest, 50
    )
    height = deep * uniform(B, 0.75, 1.2)
    r2 = ((Xg - tx) ** 2 + (Yg - ty) ** 2) / uniform(B, 9, 15) ** 2
    return (
        (n == 3).float().view(B, 1, 1)
        * height
        * torch.exp(-0.5 * (r2 ** uniform(B, 0.8, 1.4) if soft else r2))
    )


def within(centre, middle):
    """Whether (B, 2, 2) centres are lows of their own, (B,): not on the rim of where deepest() looks."""
    x, y = centre[..., 0], centre[..., 1]
    own = ((x - middle.view(-1, 1)).abs() > 11) & (x.abs() < 101) & (y.abs() < 63)
    return own.all(1).view(-1, 1, 1)


def reliefs(B):
    """Imprints in foam: depth (B, GY, GX), count (B,), and deepest()'s four.  Where a body left no two lows
    of their own the centres are OUTSIDE: the net learns what it shows, but not a place."""
    n, on = counts(B)
    depth, cx, cy, family, deep, _ = dents(B, on, "foam")
    depth = clutter(B, depth + third_dent(B, n, cx, cy, deep, 26, True), cx, cy)
    drawn = deepest(depth, cx, family)
    seated, bx, by = bodies.imprints(B)
    body = list(deepest(seated, bx, torch.zeros_like(family)))
    body[0] = torch.where(within(body[0], bx), body[0], torch.full_like(body[0], OUTSIDE))
    seated = clutter(B, bodies.cloth(B, seated), bx, by, uneven=False)
    is_body = (n == 2) & (torch.rand(B, device=device) < BODY)
    choose = lambda a, b: torch.where(is_body.view(-1, *[1] * (a.dim() - 1)), a, b)
    return (choose(seated, depth), n, *[choose(a, b) for a, b in zip(body, drawn)])


def pressures(B, n, on):
    """Marks on paper: pressure (B, GY, GX) of about 4 to 24, and deepest()'s four; bodies as in reliefs()."""
    pressure, cx, cy, family, deep, _ = dents(B, on, "ink")
    pressure = pressure + third_dent(B, n, cx, cy, deep, 28, False)
    seated, bx = bodies.pressures(B)
    is_body = ((n == 2) & (torch.rand(B, device=device) < BODY)).view(-1, 1, 1)
    pressure, middle = torch.where(is_body, seated, pressure), torch.where(is_body, bx, cx)
    pressure = pressure + smooth_noise(B, 26) * uniform(B, 0.02, 0.2)
    centre, *rest = deepest(pressure, middle, family * 0)
    lost = is_body & ~within(centre, middle)
    return (pressure, torch.where(lost, torch.full_like(centre, OUTSIDE), centre), *rest)
