"""Light on the pad: sky above each cell's horizon, what the walls throw at each other, lamps with soft
shadows, the flash.

Fields are (B, CY, CX) on the shaded grid, in arbitrary linear units; normals and directions are unit
vectors (x, y, z), z up. Where a function knows of several photos, those of an imprint follow one another
and B counts photos."""
import math

import torch

from grid import (
    OPEN, PI, STEP, WX, WY, Xs, Ys, chance, crop, log_uniform, normal, per_photo, sample, uniform,
)
from horizons import DIRECTIONS, around, horizon_toward


def staying(B, photos, p):
    """A function that gives the photos of an imprint their first one's number, with the probability p for
    each imprint."""
    if photos == 1:
        return lambda t: t
    same = per_photo(chance(B // photos, p), photos) > 0
    return lambda t: torch.where(same, per_photo(t[::photos], photos), t)


def to_edge(ca, sa):
    """How far the window's edge is from each shaded cell toward (ca, sa), mm; far away from a cell under
    the frame."""
    far = torch.full_like(Xs, 1e6)
    tx = torch.where(ca.abs() > 1e-4, (WX - Xs * ca.sign()) / ca.abs().clamp(min=1e-4), far)
    ty = torch.where(sa.abs() > 1e-4, (WY - Ys * sa.sign()) / sa.abs().clamp(min=1e-4), far)
    return torch.where(OPEN, torch.minimum(tx, ty).clamp(min=1.0), far)


def draw_sky(B, stay):
    """A room's own light: per direction (azimuth's share, zenith's share), and how bright all of it is."""
    azimuth, uneven_azimuth = stay(uniform(B, 0, 2 * PI)), stay(uniform(B, 0, 0.9))
    zenith = stay(uniform(B, -0.6, 1.2))
    uneven = stay(uniform(B, 0, 0.4))
    blot = [1 + uneven * stay(uniform(B, -1, 1)) for _ in DIRECTIONS]
    return [
        ((1 + uneven_azimuth * torch.cos(math.atan2(dy, dx) - azimuth)) * blot[k], zenith)
        for k, (dx, dy) in enumerate(DIRECTIONS)
    ]


def surroundings(z, nx, ny, nz, radiance, under):
    """Sky light above each cell's horizon in 16 azimuths, and which cell the horizon is, for the light
    between walls. under is how deep a cell lies under the frame, whose edge hides sky as walls do but
    throws no light back."""
    irradiance, seen = torch.zeros_like(nz), []
    dphi = 2 * PI / len(DIRECTIONS)
    for k, (dx, dy) in enumerate(DIRECTIONS):
        n = math.hypot(dx, dy)
        t, at = around(z, dx, dy)
        wall = torch.atan(t)
        edge = to_edge(torch.full_like(Xs, dx / n), torch.full_like(Xs, dy / n))
        t = torch.maximum(t, under / edge)
        h, ch = torch.atan(t), torch.rsqrt(1 + t * t)
        sh = t * ch
        nh = (nx * dx + ny * dy) / n
        low = nh * (h + sh * ch) / 2 + nz * sh * sh / 2  # facing(h)
        sky = (nh * (PI / 4) + nz / 2 - low).clamp(min=0)  # facing(pi/2) - facing(h)
        a, b = radiance[k]
        up = nh * ch**3 / 3 + nz * (1 - sh**3) / 3  # sky that brightens or darkens toward the zenith
        irradiance = irradiance + (a * sky + b * up.clamp(min=0)) * (dphi / PI)
        g = torch.minimum(-torch.atan2(nh, nz), wall)  # the cell's own tangent plane
        facing = lambda a: nh * (a + torch.sin(a) * torch.cos(a)) / 2 + nz * torch.sin(a) ** 2 / 2
        seen.append((dx, dy, at, (facing(wall) - facing(g)).clamp(min=0) * (dphi / PI)))
    return irradiance, seen


def bounce(light, seen):
    """Light that comes from the walls seen below the horizon: one bounce."""
    out = torch.zeros_like(light)
    for dx, dy, at, wall in seen:
        out = out + sample(light, Xs + at * (dx * STEP), Ys + at * (dy * STEP)) * wall
    return out


def reflect(nx, ny, nz, lx, ly, lz, vx, vy, vz, rough, spec):
    """Light thrown toward the camera: Burley's diffuse with a rough dielectric's GGX lobe (both from
    memory), times n.l. Returns diffuse (for albedo 1) and specular."""
    nl = (nx * lx + ny * ly + nz * lz).clamp(min=0)
    nv = (nx * vx + ny * vy + nz * vz).clamp(min=0.05)
    hx, hy, hz = lx + vx, ly + vy, lz + vz
    hn = torch.rsqrt(hx**2 + hy**2 + hz**2 + 1e-9)
    hx, hy, hz = hx * hn, hy * hn, hz * hn
    lh, nh = (lx * hx + ly * hy + lz * hz).clamp(0, 1), (nx * hx + ny * hy + nz * hz).clamp(0, 1)
    f90 = 0.5 + 2 * rough * lh**2
    diffuse = (1 + (f90 - 1) * (1 - nl) ** 5) * (1 + (f90 - 1) * (1 - nv) ** 5) * nl
    a2 = rough**4
    lobe = a2 / (PI * (nh**2 * (a2 - 1) + 1) ** 2)
    g = 0.5 / (nl * torch.sqrt(nv**2 * (1 - a2) + a2) + nv * torch.sqrt(nl**2 * (1 - a2) + a2) + 1e-4)
    f0 = 0.08 * spec
    fresnel = f0 + (1 - f0) * (1 - lh) ** 5
    return diffuse, lobe * g * fresnel * nl * PI


def lamps(B, z, n, view, rough, spec, under, photos=1):
    """Up to three lamps: windows, panels and bulbs, with soft shadows of the walls and of the frame's
    edge.  From one photo of an imprint to the next the first is moved, as a rule, and the others are the
    room's and stay in every second. Returns diffuse and specular light of the pad, and light on the frame's
    plane."""
    zc = crop(z)
    diffuse, shine, flat = torch.zeros_like(zc), torch.zeros_like(zc), torch.zeros_like(zc)
    for k, p in enumerate((0.85, 0.4, 0.12)):
        stay = staying(B, photos, 0.5 if k else 0.1)
        on = stay(chance(B, p))
        elevation = stay(torch.where(chance(B, 0.25) > 0, uniform(B, 1.1, 1.55), uniform(B, 0.2, 1.25)))
        turn = uniform(B, 0, 2 * PI)  # the second lamp often stands across from the first
        across = lambda: torch.where(chance(B, 0.3 * (k == 1)) > 0, azimuth + PI + normal(B, 0.4), turn)
        azimuth = stay(turn if k == 0 else across())
        distance = stay(uniform(B, 500, 2800))
        size = stay(torch.where(chance(B, 0.2) > 0, uniform(B, 20, 150), uniform(B, 150, 1300)))
        power = stay(uniform(B, 0.2, 1.4))
        ca, sa, ce, se = torch.cos(azimuth), torch.sin(azimuth), torch.cos(elevation), torch.sin(elevation)
        lx, ly, lz = distance * ce * ca - Xs, distance * ce * sa - Ys, distance * se
        r = torch.sqrt(lx**2 + ly**2 + lz**2)
        facing = ((lx * ce * ca + ly * ce * sa + lz * se) / r).clamp(min=0)
        flat = flat + on * power * (lz / r) * (distance / r) ** 2 * facing
        for q in range(4):  # four cells of the lamp's square
            a_ = (q % 2 - 0.5 + uniform(B, -0.25, 0.25)) * size / 2
            b_ = (q // 2 - 0.5 + uniform(B, -0.25, 0.25)) * size / 2
            lx0, ly0 = (
                distance * ce * ca - a_ * sa - b_ * se * ca,
                distance * ce * sa + a_ * ca - b_ * se * sa,
            )
            lz0 = (distance * se + b_ * ce).clamp(min=40)
            lx, ly, lz = lx0 - Xs, ly0 - Ys, lz0 - zc
            r = torch.sqrt(lx**2 + ly**2 + lz**2)
            lx, ly, lz = lx / r, ly / r, lz / r
            h0 = torch.sqrt(lx0**2 + ly0**2).clamp(min=1.0)
            edge = under / to_edge(lx0 / h0, ly0 / h0)
            h = torch.maximum(horizon_toward(z, lx0 / h0, ly0 / h0), edge)
            soft = (size / distance * 0.3 / 2).clamp(min=0.02)
            lit = torch.sigmoid((lz / torch.sqrt(lx**2 + ly**2 + 1e-6) - h) / soft * 1.7)
            facing = ((lx * lx0 + ly * ly0 + lz * lz0) / torch.sqrt(lx0**2 + ly0**2 + lz0**2)).clamp(
                min=0
            )
            df, sp = reflect(*n, lx, ly, lz, *view, rough, spec)
            e = on * power * lit * (distance / r) ** 2 * facing / 4
            diffuse, shine = diffuse + e * df, shine + e * sp
    return diffuse, shine, flat


def flash(B, z, n, view, C, H, rough, spec):
    """The phone's own lamp beside the lens at C, H above the frame's plane; three photos of ten.  Returns
    as lamps()."""
    on = chance(B, 0.3) * uniform(B, 0.4, 3.0)
    lx, ly, lz = C[0] + normal(B, 9) - Xs, C[1] + normal(B, 9) - Ys, H - crop(z)
    r = torch.sqrt(lx**2 + ly**2 + lz**2)
    df, sp = reflect(*n, lx / r, ly / r, lz / r, *view, rough, spec)
    return on * df * (H / r) ** 2, on * sp * (H / r) ** 2, on * lz / r * (H / r) ** 2


def sky_brightness(B, stay):
    return stay(log_uniform(B, 0.04, 1.2))
