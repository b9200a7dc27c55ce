"""How high the pad's own walls stand round each shaded cell, the costliest part of drawing: two kernels for
a GPU, and plain versions that give the same numbers slowly.  A surface z is (B, GY, GX) in mm, upward; a
horizon is a tangent >= 0."""
import math

import torch

from grid import CX, CY, GX, GY, PX, PY, STEP, Xs, Ys, crop, device, sample

try:
    import triton
    import triton.language as tl
except ImportError:  # a machine without a GPU
    triton = None

DIRECTIONS = [
    (1, 0),
    (2, 1),
    (1, 1),
    (1, 2),
    (0, 1),
    (-1, 2),
    (-1, 1),
    (-2, 1),
    (-1, 0),
    (-2, -1),
    (-1, -1),
    (-1, -2),
    (0, -1),
    (1, -2),
    (1, -1),
    (2, -1),
]
STEPS = (1, 2, 3, 4, 6, 8, 11, 15, 22)  # in cells, or their diagonals
REACH = (2.5, 5, 8, 12, 17, 24, 34, 48)  # mm
BLOCK_SIZE = 1024

if triton:

    @triton.jit
    def _around(
        z,
        out_t,
        out_at,
        total,
        W: tl.constexpr,
        Hh: tl.constexpr,
        w: tl.constexpr,
        h: tl.constexpr,
        px: tl.constexpr,
        py: tl.constexpr,
        dx: tl.constexpr,
        dy: tl.constexpr,
        unit: tl.constexpr,
        BLOCK: tl.constexpr,
    ):
        i = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = i < total
        b, r = i // (w * h), i % (w * h)
        iy, ix = r // w + py, r % w + px
        base = b * W * Hh
        z0 = tl.load(z + base + iy * W + ix, ok)
        best = tl.zeros([BLOCK], tl.float32)
        at = tl.zeros([BLOCK], tl.float32)
        for s in tl.static_range(23):  # those of STEPS
            if s == 1 or s == 2 or s == 3 or s == 4 or s == 6 or s == 8 or s == 11 or s == 15 or s == 22:
                jy = tl.minimum(tl.maximum(iy + s * dy, 0), Hh - 1)
                jx = tl.minimum(tl.maximum(ix + s * dx, 0), W - 1)
                t = (tl.load(z + base + jy * W + jx, ok) - z0) / (s * unit)
                at = tl.where(t > best, s * 1.0, at)
                best = tl.maximum(best, t)
        tl.store(out_t + i, best, ok)
        tl.store(out_at + i, at, ok)

    @triton.jit
    def _toward(
        z,
        ca,
        sa,
        out,
        total,
        W: tl.constexpr,
        Hh: tl.constexpr,
        w: tl.constexpr,
        h: tl.constexpr,
        px: tl.constexpr,
        py: tl.constexpr,
        BLOCK: tl.constexpr,
    ):
        i = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = i < total
        b, r = i // (w * h), i % (w * h)
        iy, ix = r // w + py, r % w + px
        base = b * W * Hh
        z0 = tl.load(z + base + iy * W + ix, ok)
        c, s_ = tl.load(ca + i, ok), tl.load(sa + i, ok)
        best = tl.zeros([BLOCK], tl.float32)
        for k in tl.static_range(8):  # those of REACH
            near = 2.5 if k == 0 else 5.0 if k == 1 else 8.0 if k == 2 else 12.0
            far = 17.0 if k == 4 else 24.0 if k == 5 else 34.0 if k == 6 else 48.0
            d = near if k < 4 else far
            fx = tl.minimum(tl.maximum(ix + c * (d / 2), 0.0), W - 1.001)
            fy = tl.minimum(tl.maximum(iy + s_ * (d / 2), 0.0), Hh - 1.001)
            x0, y0 = fx.to(tl.int32), fy.to(tl.int32)
            u, v = fx - x0, fy - y0
            p = z + base + y0 * W + x0
            upper = tl.load(p, ok) * (1 - u) + tl.load(p + 1, ok) * u
            lower = tl.load(p + W, ok) * (1 - u) + tl.load(p + W + 1, ok) * u
            best = tl.maximum(best, (upper * (1 - v) + lower * v - z0) / d)
        tl.store(out + i, best, ok)


def around(z, dx, dy):
    """Toward (dx, dy): the tangent of the highest horizon of each shaded cell, and how many steps away it
    stands."""
    n = math.hypot(dx, dy)
    if triton and z.is_cuda:
        t = torch.empty(z.shape[0], CY, CX, device=device)
        at = torch.empty_like(t)
        blocks = (triton.cdiv(t.numel(), BLOCK_SIZE),)
        _around[blocks](z, t, at, t.numel(), GX, GY, CX, CY, PX, PY, dx, dy, n * STEP, BLOCK_SIZE)
        return t, at
    j, i = torch.arange(CY, device=device) + PY, torch.arange(CX, device=device) + PX
    z0 = crop(z)
    h, at = torch.zeros_like(z0), torch.zeros_like(z0)
    for s in STEPS:
        t = (z[:, (j + s * dy).clamp(0, GY - 1)][:, :, (i + s * dx).clamp(0, GX - 1)] - z0) / (s * n * STEP)
        at = torch.where(t > h, torch.full_like(at, float(s)), at)
        h = torch.maximum(h, t)
    return h, at


def horizon_toward(z, ca, sa):
    """The tangent of the horizon toward the direction (ca, sa) of each shaded cell."""
    if triton and z.is_cuda:
        out = torch.empty(z.shape[0], CY, CX, device=device)
        blocks = (triton.cdiv(out.numel(), BLOCK_SIZE),)
        ca, sa = ca.expand_as(out).contiguous(), sa.expand_as(out).contiguous()
        _toward[blocks](z, ca, sa, out, out.numel(), GX, GY, CX, CY, PX, PY, BLOCK_SIZE)
        return out
    z0 = crop(z)
    h = torch.zeros_like(z0)
    for s in REACH:
        h = torch.maximum(h, (sample(z, Xs + ca * s, Ys + sa * s) - z0) / s)
    return h


def check_kernels(z):
    """The fast kernels give the plain versions' numbers on z, or are not used.  Returns a line for the
    log."""
    global triton
    if not (triton and device == "cuda"):
        return "plain"
    fast = triton
    a = torch.rand(z.shape[0], CY, CX, device=device) * 6.28

    def all_horizons():
        return [around(z, dx, dy)[0] for dx, dy in DIRECTIONS] + [
            horizon_toward(z, torch.cos(a), torch.sin(a))
        ]

    try:
        one = all_horizons()
        triton = None
        gap = max(float((p - q).abs().max()) for p, q in zip(one, all_horizons()))
    except Exception as error:
        triton = None
        return f"plain: {error!r}"[:400]
    triton = fast if gap < 2e-3 else None
    return f"fast, gap {gap:.1e}" if triton else f"plain, gap {gap:.1e}"
