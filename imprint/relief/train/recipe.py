"""The data recipe: reliefs, lights, paints and phones drawn at random, shaded on the GPU as fast as they
are used.

Everything that the nets ever see in training is made here and in the modules that this one imports; no
photograph is used. Lengths are in mm, light in arbitrary linear units, axes the frame's (grid.py).

Two functions are the interface: foam(B, photos) and ink(B), B being the number of imprints.  Both return a
dict of tensors whose first axis counts pictures; with several photos of each imprint (foam only) they
follow one another:
  image   (N, 64, 104) linear light as the camera saw it, resampled (x -103..103, y -63..63, step 2): ink on
          the frame's plane, foam LEVEL mm below it, where its bottoms seen from different places lie about
          the same
  light   (N, 64, 104) ln of the light on the frame's plane, up to a constant, as the frame's white shows it
          (0 for ink)
  view    (N, 2, 64, 104) (Cx - x)/H and (Cy - y)/H: where the camera stood, as the tool will know it
  centre  (N, 2, 2) the left and the right deepest point as they appear on the plane of the image
  depth   (N, 2) mm below the pad's flat surface
  flat    (N, 2) radius in mm of the area within 0.3 mm of the deepest point
  oblong  (N, 2, 2) ln(long axis / short axis) * (cos 2a, sin 2a) of the dent's deeper part, a being the
          direction of the long axis
  count   (N,) 0 no dent, 1 one dent, 2 two dents, 3 more than two
"""
import torch
import torch.nn.functional as F

from grid import (
    OPEN, OX, OY, PI, STEP, Xg, Xs, Yg, Ys, chance, crop, device, log_uniform, normal, per_photo, sample,
    smooth_noise, uniform,
)
from horizons import DIRECTIONS
from light import bounce, draw_sky, flash, lamps, sky_brightness, staying, surroundings
from paint import paint
from phone import (
    LEVEL, appear, camera, develop, frame_light, known, lay_frame, onto_level, seen_at, to_plane,
    view_map,
)
from shapes import counts, pressures, reliefs


def slopes(z):
    """The surface's slopes along x and y, (B, GY, GX) each."""
    zx = F.pad((z[:, :, 2:] - z[:, :, :-2]) / (2 * STEP), (1, 1), mode="replicate")
    zy = F.pad((z[:, None, 2:] - z[:, None, :-2]) / (2 * STEP), (0, 0, 1, 1), mode="replicate")[:, 0]
    return zx, zy


def draw_pad(B, photos):
    """B imprints with what their material is like, each entry once a photo; depth counts from the frame's
    plane."""
    depth, count, P, D, flat, oblong = reliefs(B)
    lie, rim, under = lay_frame(B, -depth)
    depth, D, seen_depth = depth + lie, D + rim.view(B, 1), D + lie.view(B, 1)
    zx, zy = slopes(-depth)
    pores = log_uniform(B, 0.001, 0.05)  # pores and the weave of cloth
    zx, zy = zx + pores * smooth_noise(B, 120), zy + pores * smooth_noise(B, 120)
    rough, spec = uniform(B, 0.6, 1.0), uniform(B, 0, 0.5)
    albedo = torch.where(chance(B, 0.2) > 0, uniform(B, 0.02, 0.1), uniform(B, 0.08, 0.88))
    pad = dict(zx=crop(zx), zy=crop(zy), under=under, rough=rough, spec=spec, albedo=albedo)
    pad.update(
        painted=albedo * paint(B, count),
        dark=uniform(B, 0, 0.2),
        relief=depth,
        count=count,
        centre=P,
        depth=D,
        flat=flat,
        oblong=oblong,
        seen_depth=seen_depth,
    )
    return {k: per_photo(v, photos) for k, v in pad.items()}


def illuminate(pad, C, H, photos):
    """The pad as it glows toward the camera (N, CY, CX), and the light on the frame's plane."""
    N, z, rough, spec = H.shape[0], -pad["relief"], pad["rough"], pad["spec"]
    nz = torch.rsqrt(1 + pad["zx"] ** 2 + pad["zy"] ** 2)
    n = (-pad["zx"] * nz, -pad["zy"] * nz, nz)
    vx, vy, vz = C[0] - Xs, C[1] - Ys, H - crop(z)
    r = torch.rsqrt(vx**2 + vy**2 + vz**2)
    view = (vx * r, vy * r, vz * r)
    stay = staying(N, photos, 0.5)  # the room's own light
    radiance = draw_sky(N, stay)
    sky, seen = surroundings(z, *n, radiance, pad["under"])
    bright = sky_brightness(N, stay)
    sky = sky.clamp(min=0) * bright
    level = bright * sum((a + zenith * 2 / 3) / len(DIRECTIONS) for a, zenith in radiance)
    diffuse, shine, flat = lamps(N, z, n, view, rough, spec, pad["under"], photos)
    flash_diffuse, flash_shine, flash_flat = flash(N, z, n, view, C, H, rough, spec)
    first = sky + diffuse + flash_diffuse + 1e-3
    second = pad["albedo"] * bounce(first, seen)
    third = pad["albedo"] * bounce(second, seen)
    glow = (first + second + third) * pad["painted"] + shine + flash_shine + 0.02 * spec * sky
    return (
        torch.where(OPEN, glow, glow * pad["dark"]),
        (flat + flash_flat) + level,
    )  # it is dark under the frame


def foam(B, photos=1):
    """B imprints, so many photos of each: the surface, its paint and the frame's lie are one, light, camera
    and phone are not."""
    pad = draw_pad(B, photos)
    H, C = camera(B, photos)
    N = B * photos
    glow, light = illuminate(pad, C, H, photos)
    Ck, Hk = known(C, H)
    level_x, level_y = seen_at(OX, OY, torch.full_like(H, LEVEL), Ck, Hk)
    image = to_plane(glow, pad["relief"], C, H, level_x, level_y)
    # a phone that exposes for a dark pad burns the card's white out, and what shines on the pad
    lit = light.flatten(1).mean(1).view(N, 1, 1)
    top = torch.where(chance(N, 0.4) > 0, lit * uniform(N, 0.6, 1.4), 1e3 * lit)
    on_frame = frame_light(N, light, top)
    image = torch.minimum(image, 0.9 * top)
    white = (pad["albedo"] / uniform(N, 0.75, 0.98)).clamp(0.02, 1) * uniform(N, 0.4, 1.0)
    centre = onto_level(appear(pad["centre"], pad["seen_depth"], C, H), Ck, Hk)
    return dict(
        image=develop(N, image, white),
        light=on_frame,
        view=view_map(Ck, Hk),
        centre=centre,
        **{k: pad[k] for k in ("depth", "flat", "oblong", "count")}
    )


def ink_density(B, pressure):
    """Ink (B, GY, GX), 0 to 1, that grows with pressure and saturates; grain, a second mark where the rider
    slid, smears, a finger's print."""
    pressure = (pressure - uniform(B, 0.5, 5)).clamp(min=0)
    peak = torch.maximum(pressure.flatten(1).amax(1), torch.full((B,), 2.5, device=device)).view(-1, 1, 1)
    pressure = pressure / peak
    density = torch.tanh(uniform(B, 0.8, 2.6) * pressure ** uniform(B, 0.7, 1.6))
    grain = smooth_noise(B, 120) * uniform(B, 0, 0.05) + smooth_noise(B, 60) * uniform(B, 0, 0.06)
    grain = grain + torch.randn_like(pressure) * uniform(B, 0, 0.02)
    haze = 0.03 * chance(B, 0.5) * (pressure * 6).clamp(0, 1) * uniform(B, 0, 1)
    density = F.relu(density + grain * (pressure * 4).clamp(0.12, 1)) + haze
    slid, sx, sy = chance(B, 0.25) * uniform(B, 0.25, 0.8), uniform(B, -7, 7), uniform(B, -5, 5)
    density = torch.maximum(density, slid * sample(density, Xg - sx, Yg - sy))
    smear, angle, run = chance(B, 0.15) * uniform(B, 0.1, 0.5), uniform(B, 0, 2 * PI), uniform(B, 3, 14)
    for k in range(1, 4):
        dx, dy = run * k / 3 * torch.cos(angle), run * k / 3 * torch.sin(angle)
        density = torch.maximum(density, smear * (1 - k / 4) * sample(density, Xg - dx, Yg - dy))
    fx, fy = (Xg - uniform(B, -100, 100)) / uniform(B, 3, 12), (Yg - uniform(B, -66, 66)) / uniform(B, 3, 12)
    finger = chance(B, 0.12) * uniform(B, 0.1, 0.6) * torch.sigmoid((1 - torch.sqrt(fx**2 + fy**2)) * 6)
    return torch.maximum(density, finger).clamp(0, 1) * ((Xg.abs() <= 106) & (Yg.abs() <= 70))


def ink_light(B, angle):
    """The light on a sheet (B, GY, GX), about 1, with somebody's shadow along angle (B, 1, 1)."""
    light = 1 + normal(B, 0.2).clamp(-0.5, 0.5) * Xg / 130 + normal(B, 0.2).clamp(-0.5, 0.5) * Yg / 100
    light = light + uniform(B, 0, 0.25) * smooth_noise(B, 3)
    edge = (Xg * torch.cos(angle) + Yg * torch.sin(angle) - uniform(B, -80, 80)) / uniform(B, 6, 50)
    return light.clamp(min=0.2) * (1 - chance(B, 0.3) * uniform(B, 0, 0.35) * torch.sigmoid(edge))


def ink(B):
    """Pressure-marking paper: density that grows with pressure and saturates, grain, smears, a second mark
    where the rider slid, marks that run out of the window."""
    count, on = counts(B)
    pressure, P, D, flat, oblong = pressures(B, count, on)
    density = ink_density(B, pressure)
    tint = uniform(B, 0.05, 0.75)
    sheet = (1 - density * (1 - tint)) * (1 + uniform(B, 0, 0.03) * smooth_noise(B, 10))
    light = ink_light(B, uniform(B, 0, 2 * PI))
    H, C = camera(B)
    mean = light.flatten(1).mean(1).view(B, 1, 1)
    top = torch.where(chance(B, 0.35) > 0, uniform(B, 0.65, 1.3), uniform(B, 9, 10)) * mean
    image = sample(sheet * light, OX.expand(B, -1, -1), OY.expand(B, -1, -1))
    image = torch.minimum(image, top)  # white paper burns out first
    image = develop(B, image, uniform(B, 0.3, 0.95), ((0.0003, 0.004), (0.0002, 0.0025)))
    return dict(
        image=image,
        light=image * 0,
        view=view_map(C, H) * 0,
        centre=P,
        depth=D * 0,
        flat=flat,
        oblong=oblong,
        count=count,
    )
