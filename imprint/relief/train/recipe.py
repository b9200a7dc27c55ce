"""The data recipe: reliefs, lights, paints and phones drawn at random, shaded on the GPU as fast as they are used.

Everything that the two nets ever see in training is made here; no photograph is used.  Lengths are in mm, angles in rad,
light in arbitrary linear units.  A batch is B imprints on a 2 mm grid that reaches beyond the frame's window, because what
lies under the frame shades the window too.  Axes are the frame's: x right, y down, depth d positive downward, z = -d.

Two functions are the interface: foam(B, photos) and ink(B).  Both return a dict, B being the number of pictures; with several
photos of each imprint (foam only) they follow one another:
  image   (B, 64, 104) linear light as the camera saw it, resampled (x -103..103, y -63..63, step 2): ink on the frame's plane,
          foam LEVEL mm below it, where its bottoms seen from different places lie about the same
  light   (B, 64, 104) ln of the light on the frame's plane, up to a constant, as the frame's white shows it (0 for ink)
  view    (B, 2, 64, 104) (Cx - x)/H and (Cy - y)/H: where the camera stood, as the tool will know it
  centre  (B, 2, 2) the left and the right deepest point as they appear on the plane of the image
  depth   (B, 2) mm below the pad's flat surface
  flat    (B, 2) radius in mm of the area within 0.3 mm of the deepest point
  oblong  (B, 2, 2) ln(long axis / short axis) * (cos 2a, sin 2a) of the dent's deeper part, a = direction of the long axis
  count   (B,) 0 no dent, 1 one dent, 2 two dents, 3 more than two
"""
import math

import torch
import torch.nn.functional as F

try:
    import triton
    import triton.language as tl
except ImportError:                     # a machine without a GPU: the plain versions below give the same numbers, slowly
    triton = None

dev = "cuda" if torch.cuda.is_available() else "cpu"
STEP = 2.0
GX, GY = 160, 120                       # the extended grid: x in +-159, y in +-119
x = torch.arange(-159, 160, STEP, device=dev)
y = torch.arange(-119, 120, STEP, device=dev)
Yg, Xg = torch.meshgrid(y, x, indexing="ij")
ox = torch.arange(-103, 104, STEP, device=dev)
oy = torch.arange(-63, 64, STEP, device=dev)
OY, OX = torch.meshgrid(oy, ox, indexing="ij")
CX, CY = 120, 84                        # the part that is shaded: x in +-119, y in +-83
PX, PY = (GX - CX) // 2, (GY - CY) // 2
PI = math.pi
LEVEL = 10.0                            # mm below the frame's plane, of the plane on which foam is resampled
WX, WY = 106.0, 70.0                    # the frame's window, half width and half height; the frame ends at 132 and 96
UNDER = ((Xg.abs() > WX) | (Yg.abs() > WY)) & (Xg.abs() < 132) & (Yg.abs() < 96)


def crop(t):
    return t[..., PY:PY + CY, PX:PX + CX]


Xs, Ys = crop(Xg).contiguous(), crop(Yg).contiguous()
OPEN = (Xs.abs() < WX) & (Ys.abs() < WY)


# ---- random draws, one number an imprint, shaped to broadcast over the grid ------------------------------------------
def uni(B, a, b):
    return torch.rand(B, 1, 1, device=dev) * (b - a) + a


def log_uni(B, a, b):
    return torch.exp(uni(B, math.log(a), math.log(b)))


def nor(B, s):
    return torch.randn(B, 1, 1, device=dev) * s


def each(t, photos):
    """What holds for an imprint, for each of its photos."""
    return t.repeat_interleave(photos, 0) if photos > 1 else t


def chance(B, p):
    return (torch.rand(B, 1, 1, device=dev) < p).float()


def low_noise(B, cells, H=GY, W=GX):
    """Smooth noise of unit deviation with about `cells` bumps along the width."""
    n = torch.randn(B, 1, max(2, int(cells * H / W)), cells, device=dev)
    n = F.interpolate(n, (H, W), mode="bicubic", align_corners=True)[:, 0]
    return n / n.flatten(1).std(1).view(-1, 1, 1)


def sample(img, X, Y):
    """Bilinear reading at mm coordinates of a grid centred on the window's middle, the relief's or the shaded part's."""
    g = torch.stack([X / (img.shape[-1] - 1.0), Y / (img.shape[-2] - 1.0)], -1)
    return F.grid_sample(img[:, None], g, align_corners=True, padding_mode="border")[:, 0]


# ---- reliefs -------------------------------------------------------------------------------------------------------
FOAM = (2.4, 1.6, 0.7, 1.7, 0.7, 0.6, 1.5)   # how often each family of dents is drawn, in the order of FAMILIES
INK = (3.0, 1.2, 0.8, 0.8, 0.5, 0.5, 0.0)
MIX = {"foam": torch.tensor(FOAM, device=dev), "ink": torch.tensor(INK, device=dev)}
FAMILIES = ("bell", "hertz", "lorentz", "ridge", "cap", "lobes", "flat")


def both(B, a, b, jitter, crooked):
    """One number an imprint and the two sides' own, near it: a rider's left and right are much alike, seldom the same."""
    mid = uni(B, a, b)
    return [mid + nor(B, jitter) * crooked for _ in (0, 1)]


def profiles(kind, B, crooked):
    """The dent's own shape as a function of u (along) and v (across) and r2 for either side, 1 at its middle: families of
    what a bone, a fold of cloth and a foam can make.  The right side is the left one's mirror image, nearly."""
    pw, hz, lo = both(B, 0.75, 1.6, 0.04, crooked), both(B, 1.0, 1.6, 0.04, crooked), both(B, 1.0, 2.0, 0.05, crooked)
    la, lb, ep, ti = both(B, 20, 34, 1, crooked), both(B, 8.5, 14, 0.5, crooked), both(B, 2.2, 4, 0.1, crooked), both(B, -0.3, 0.3, 0.05, crooked)
    cp, an, far, amp, wid = both(B, 2.2, 4.0, 0.1, crooked), both(B, 0, 2 * PI, 0.2, crooked), both(B, 7, 17, 0.7, crooked), both(B, 0.2, 0.8, 0.05, crooked), both(B, 7, 13, 0.4, crooked)

    def shape(k, u, v, r2):
        bell = torch.exp(-0.5 * (r2 + 1e-6) ** pw[k].clamp(min=0.6))
        t = torch.sqrt(r2 + 1e-6) / hz[k].clamp(min=0.8)            # a ball pressed into a half space (Hertz; from memory)
        o = t.clamp(min=1.0)
        hertz = torch.where(t <= 1, 1 - t * t / 2, ((2 - o * o) * torch.asin(1 / o) + torch.sqrt((o * o - 1).clamp(min=0))) / PI)
        lorentz = 1 / (1 + r2 * 0.55) ** lo[k]
        ridge = torch.exp(-0.5 * (u / la[k]).abs() ** ep[k].clamp(min=1.5) - 0.5 * (v / lb[k]) ** 2) * (1 + ti[k] * torch.tanh(u / 18))
        cap = F.softplus((1 - r2 / cp[k].clamp(min=1.5)) * 6) / math.log1p(math.exp(6.0))   # a rounded cap with a soft rim
        lobes = torch.exp(-0.5 * r2) + amp[k] * torch.exp(-0.5 * ((u - far[k] * torch.cos(an[k])) ** 2 + (v - far[k] * torch.sin(an[k])) ** 2) / wid[k] ** 2)
        p = torch.where(kind == 1, hertz, torch.where(kind == 2, lorentz, torch.where(kind == 3, ridge, torch.where(kind == 4, cap, torch.where(kind == 5, lobes, bell)))))
        return p
    return shape


def dents(B, on, mix):
    """Two dents in their basin, the sides switched by on (B,2); returns depth, the middle line, the family, the dents' own
    depth and their distance."""
    spacing = (120 + nor(B, 20)).clamp(76, 176)
    yaw, cx, cy = nor(B, 0.06), nor(B, 8), nor(B, 10)
    d = torch.zeros(B, GY, GX, device=dev)
    deep, ratio = uni(B, 4, 17), torch.exp(nor(B, 0.16))
    basin = uni(B, 0, 9)
    kind = torch.multinomial(MIX[mix], B, replacement=True).view(B, 1, 1)
    crooked = torch.where(chance(B, 0.15) > 0, 4.0, 1.0)
    c, s = torch.cos(yaw), torch.sin(yaw)
    warp = uni(B, 0, 2.0) * chance(B, 0.4)
    Xw, Yw = Xg + warp * low_noise(B, 9), Yg + warp * low_noise(B, 9)   # nothing in life is an ellipse
    shape = profiles(kind, B, crooked)
    smin, long_, toe = both(B, 9, 18, 0.6, crooked), both(B, 1.0, 1.85, 0.06, crooked), both(B, -0.1, 0.75, 0.08, crooked)
    sku, skv = both(B, -0.15, 0.15, 0.04, crooked), both(B, -0.1, 0.1, 0.03, crooked)
    off, drop, bx_, by_ = both(B, -3, 17, 1.5, crooked), both(B, -6, 12, 2, crooked), both(B, 34, 65, 2.5, crooked), both(B, 34, 61, 2.5, crooked)
    for k, side in enumerate((-1, 1)):
        hy = nor(B, 2.5)
        px, py = cx + side * spacing / 2 * c - hy * s, cy + side * spacing / 2 * s + hy * c
        a = PI / 2 + side * toe[k] + yaw
        ca, sa = torch.cos(a), torch.sin(a)
        u, v = (Xw - px) * ca + (Yw - py) * sa, side * (-(Xw - px) * sa + (Yw - py) * ca)
        u, v = u * (1 + sku[k] * torch.tanh(u / 20)), v * (1 + skv[k] * torch.tanh(v / 15))
        m = smin[k].clamp(min=7)
        p = shape(k, u, v, (u / (m * long_[k].clamp(min=1))) ** 2 + (v / m) ** 2)
        w = on[:, k].view(B, 1, 1)
        d = d + w * deep * (ratio if side > 0 else 1) * p
        d = d + w * basin * torch.exp(-0.5 * (((Xg - px - side * off[k]) / bx_[k].clamp(min=25)) ** 2 + ((Yg - py - drop[k]) / by_[k].clamp(min=25)) ** 2))
    # some pads bottom out on the board below: a soft ceiling at or under the shallower dent
    half = torch.stack([torch.where((Xg - cx) * sd > 8, d, torch.zeros_like(d)).flatten(1).amax(1) for sd in (-1, 1)], 1)
    lo = torch.where(on > 0, half, torch.full_like(half, 1e3)).amin(1).clamp(max=40).view(B, 1, 1)
    ceil, w = lo * uni(B, 0.72, 0.97), uni(B, 0.2, 0.6)
    capped = ceil - w * F.softplus((ceil - d) / w)
    capped = capped - (ceil - w * F.softplus(ceil / w))
    d = torch.where(kind == 6, capped, d)
    return d, cx, cy, kind, deep, spacing


def clutter(B, d, cx, cy):
    """What else a counter's pad shows: finger and tail-bone dents, seams, folds, an old imprint, unevenness."""
    fx, fy = uni(B, -98, 98), uni(B, -66, 66)
    d = d + chance(B, 0.3) * uni(B, 0.8, 3.5) * torch.exp(-0.5 * ((Xg - fx) ** 2 + (Yg - fy) ** 2) / uni(B, 3.5, 7) ** 2)
    d = d + chance(B, 0.25) * uni(B, 0.8, 3.5) * torch.exp(-0.5 * ((Xg - cx - nor(B, 5)) ** 2 + (Yg - cy - uni(B, 33, 56)) ** 2) / uni(B, 6, 11) ** 2)
    for _ in range(2):
        an = torch.where(chance(B, 0.5) > 0, nor(B, 0.35), uni(B, 0, PI))
        t = (Xg - cx - nor(B, 30)) * torch.cos(an) + (Yg - nor(B, 25)) * torch.sin(an) + 0.002 * nor(B, 1) * (Xg * torch.sin(an)) ** 2
        w = uni(B, 1.5, 3.2)
        d = d + chance(B, 0.25) * nor(B, 0.9) * torch.exp(-0.5 * (t / w) ** 2)
    old = chance(B, 0.15) * uni(B, 0.3, 1.5)                        # what foam kept of the rider before
    ospc, ocx, ocy = 120 + nor(B, 18), cx + nor(B, 14), cy + nor(B, 14)
    for side in (-1, 1):
        d = d + old * torch.exp(-0.5 * ((Xg - ocx - side * ospc / 2) ** 2 + (Yg - ocy) ** 2) / uni(B, 10, 22) ** 2)
    return d + low_noise(B, 6) * uni(B, 0.05, 0.4) + low_noise(B, 24) * uni(B, 0, 0.12)


_a, _c = [v.flatten().float() for v in torch.meshgrid(torch.arange(-2, 3), torch.arange(-2, 3), indexing="ij")]
QUADRATIC = torch.linalg.pinv(torch.stack([torch.ones(25), _c, _a, _c * _c, _c * _a, _a * _a], 1)).to(dev)


def deepest(d, mid, kind):
    """The deepest point on either side of mid by the quadratic through the 25 cells within 4 mm of the deepest one, since
    neither bone nor cloth has finer features, or the middle of the flat where the pad bottomed out; with depth, flat radius
    and oblongness."""
    B = d.shape[0]
    k = torch.tensor([[1.0, 2, 1], [2, 5, 2], [1, 2, 1]], device=dev)
    k = (k / k.sum()).view(1, 1, 3, 3)                              # about 1 mm: the surface at the scale of the fabric
    ds = F.conv2d(F.pad(d[:, None], (1, 1, 1, 1), mode="replicate"), k)[:, 0]
    C, D, R, O = [], [], [], []
    for side in (-1, 1):
        ok = ((Xg - mid) * side > 8) & (Xg.abs() < 104) & (Yg.abs() < 66)
        m = torch.where(ok, ds, torch.full_like(ds, -1e3)).flatten(1)
        i = m.argmax(1)
        j, ii = (i // GX).clamp(2, GY - 3), (i % GX).clamp(2, GX - 3)
        b = torch.arange(B, device=dev)

        cells = torch.stack([ds[b, j + a, ii + c] for a in range(-2, 3) for c in range(-2, 3)], 1)
        q = cells @ QUADRATIC.T                                     # 1, x, y, x2, xy, y2 in cells
        det = 4 * q[:, 3] * q[:, 5] - q[:, 4] ** 2
        dx, dy = (q[:, 4] * q[:, 2] - 2 * q[:, 5] * q[:, 1]) / det, (q[:, 4] * q[:, 1] - 2 * q[:, 3] * q[:, 2]) / det
        good = (det > 1e-6) & (q[:, 3] < 0) & (dx.abs() < 2) & (dy.abs() < 2)
        dx, dy = torch.where(good, dx, torch.zeros_like(dx)), torch.where(good, dy, torch.zeros_like(dy))
        px, py, top = x[ii] + STEP * dx, y[j] + STEP * dy, ds[b, j, ii]
        v = lambda t: t.view(B, 1, 1)
        near = ((Xg - v(px)) ** 2 + (Yg - v(py)) ** 2 < 34 ** 2) & ok
        soft = (torch.sigmoid((ds - v(top) + 0.3) / 0.05) * near)   # the area within 0.3 mm of the deepest
        area = soft.flatten(1).sum(1) * STEP * STEP
        fx, fy = (soft * Xg).flatten(1).sum(1) / soft.flatten(1).sum(1).clamp(min=1e-3), (soft * Yg).flatten(1).sum(1) / soft.flatten(1).sum(1).clamp(min=1e-3)
        bottomed = (kind.view(B) == 6) & (area > 80)
        px, py = torch.where(bottomed, fx, px), torch.where(bottomed, fy, py)
        w = (ds - 0.6 * v(top)).clamp(min=0) * near
        W = w.flatten(1).sum(1).clamp(min=1e-3)
        mx, my = (w * Xg).flatten(1).sum(1) / W, (w * Yg).flatten(1).sum(1) / W
        sxx = (w * (Xg - v(mx)) ** 2).flatten(1).sum(1) / W
        syy = (w * (Yg - v(my)) ** 2).flatten(1).sum(1) / W
        sxy = (w * (Xg - v(mx)) * (Yg - v(my))).flatten(1).sum(1) / W
        t, q = (sxx + syy) / 2, torch.sqrt(((sxx - syy) / 2) ** 2 + sxy ** 2 + 1e-9)
        ln = 0.5 * torch.log((t + q) / (t - q).clamp(min=1e-2))
        C.append(torch.stack([px, py], -1)), D.append(top), R.append(torch.sqrt(area / PI))
        O.append(torch.stack([ln * (sxx - syy) / 2 / q, ln * sxy / q], -1))
    return torch.stack(C, 1), torch.stack(D, 1), torch.stack(R, 1), torch.stack(O, 1)


def counts(B):
    """How many dents each imprint has, and which sides are on."""
    n = torch.multinomial(torch.tensor([0.08, 0.08, 0.78, 0.06], device=dev), B, replacement=True)
    left = torch.where(n == 1, (torch.rand(B, device=dev) < 0.5).float(), torch.ones(B, device=dev))
    on = torch.stack([left, torch.where(n == 1, 1 - left, torch.ones(B, device=dev))], 1)
    return n, torch.where((n == 0)[:, None], torch.zeros_like(on), on)


def reliefs(B):
    n, on = counts(B)
    d, cx, cy, kind, deep, spacing = dents(B, on, "foam")
    a, far = uni(B, 0, 2 * PI), uni(B, 34, 60)                      # a third dent of like depth, away from both
    tx, ty = cx + far * torch.cos(a) * 0.35, cy + (far * torch.sin(a)).sign() * uni(B, 26, 50)
    third = deep * uni(B, 0.75, 1.2) * torch.exp(-0.5 * (((Xg - tx) ** 2 + (Yg - ty) ** 2) / uni(B, 9, 15) ** 2) ** uni(B, 0.8, 1.4))
    d = d + (n == 3).float().view(B, 1, 1) * third
    d = clutter(B, d, cx, cy)
    C, D, R, O = deepest(d, cx, kind)
    return d, n, C, D, R, O


# ---- light ---------------------------------------------------------------------------------------------------------
DIRECTIONS = [(1, 0), (2, 1), (1, 1), (1, 2), (0, 1), (-1, 2), (-1, 1), (-2, 1), (-1, 0), (-2, -1), (-1, -1), (-1, -2), (0, -1), (1, -2), (1, -1), (2, -1)]


STEPS = (1, 2, 3, 4, 6, 8, 11, 15, 22)
REACH = (2.5, 5, 8, 12, 17, 24, 34, 48)

if triton:
    @triton.jit
    def _around(z, out_t, out_at, total, W: tl.constexpr, Hh: tl.constexpr, w: tl.constexpr, h: tl.constexpr, px: tl.constexpr, py: tl.constexpr,
                dx: tl.constexpr, dy: tl.constexpr, unit: tl.constexpr, BLOCK: tl.constexpr):
        i = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = i < total
        b, r = i // (w * h), i % (w * h)
        iy, ix = r // w + py, r % w + px
        base = b * W * Hh
        z0 = tl.load(z + base + iy * W + ix, ok)
        best = tl.zeros([BLOCK], tl.float32)
        at = tl.zeros([BLOCK], tl.float32)
        for s in tl.static_range(23):
            if s == 1 or s == 2 or s == 3 or s == 4 or s == 6 or s == 8 or s == 11 or s == 15 or s == 22:
                jy, jx = tl.minimum(tl.maximum(iy + s * dy, 0), Hh - 1), tl.minimum(tl.maximum(ix + s * dx, 0), W - 1)
                t = (tl.load(z + base + jy * W + jx, ok) - z0) / (s * unit)
                at = tl.where(t > best, s * 1.0, at)
                best = tl.maximum(best, t)
        tl.store(out_t + i, best, ok)
        tl.store(out_at + i, at, ok)

    @triton.jit
    def _toward(z, ca, sa, out, total, W: tl.constexpr, Hh: tl.constexpr, w: tl.constexpr, h: tl.constexpr, px: tl.constexpr, py: tl.constexpr, BLOCK: tl.constexpr):
        i = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = i < total
        b, r = i // (w * h), i % (w * h)
        iy, ix = r // w + py, r % w + px
        base = b * W * Hh
        z0 = tl.load(z + base + iy * W + ix, ok)
        c, s_ = tl.load(ca + i, ok), tl.load(sa + i, ok)
        best = tl.zeros([BLOCK], tl.float32)
        for k in tl.static_range(8):
            d = 2.5 if k == 0 else 5.0 if k == 1 else 8.0 if k == 2 else 12.0 if k == 3 else 17.0 if k == 4 else 24.0 if k == 5 else 34.0 if k == 6 else 48.0
            fx = tl.minimum(tl.maximum(ix + c * (d / 2), 0.0), W - 1.001)
            fy = tl.minimum(tl.maximum(iy + s_ * (d / 2), 0.0), Hh - 1.001)
            x0, y0 = fx.to(tl.int32), fy.to(tl.int32)
            u, v = fx - x0, fy - y0
            p = z + base + y0 * W + x0
            zz = (tl.load(p, ok) * (1 - u) + tl.load(p + 1, ok) * u) * (1 - v) + (tl.load(p + W, ok) * (1 - u) + tl.load(p + W + 1, ok) * u) * v
            best = tl.maximum(best, (zz - z0) / d)
        tl.store(out + i, best, ok)


def around(z, dx, dy):
    """Toward (dx, dy): the tangent of the highest horizon of each shaded cell, and how many steps away it stands."""
    n = math.hypot(dx, dy)
    if triton and z.is_cuda:
        t = torch.empty(z.shape[0], CY, CX, device=dev)
        at = torch.empty_like(t)
        _around[(triton.cdiv(t.numel(), 1024),)](z, t, at, t.numel(), GX, GY, CX, CY, PX, PY, dx, dy, n * STEP, 1024)
        return t, at
    j, i = torch.arange(CY, device=dev) + PY, torch.arange(CX, device=dev) + PX
    z0 = crop(z)
    h, at = torch.zeros_like(z0), torch.zeros_like(z0)
    for s in STEPS:
        t = (z[:, (j + s * dy).clamp(0, GY - 1)][:, :, (i + s * dx).clamp(0, GX - 1)] - z0) / (s * n * STEP)
        at = torch.where(t > h, torch.full_like(at, float(s)), at)
        h = torch.maximum(h, t)
    return h, at


def to_edge(ca, sa):
    """How far the window's edge is from each shaded cell toward (ca, sa), mm; far away from a cell under the frame."""
    far = torch.full_like(Xs, 1e6)
    tx = torch.where(ca.abs() > 1e-4, (WX - Xs * ca.sign()) / ca.abs().clamp(min=1e-4), far)
    ty = torch.where(sa.abs() > 1e-4, (WY - Ys * sa.sign()) / sa.abs().clamp(min=1e-4), far)
    return torch.where(OPEN, torch.minimum(tx, ty).clamp(min=1.0), far)


def surroundings(z, nx, ny, nz, radiance, under):
    """Sky light above each cell's horizon in 16 azimuths, and which cell the horizon is, for the light between walls.
    under is how deep a cell lies under the frame, whose edge hides sky as walls do but throws no light back."""
    E, open_, seen = torch.zeros_like(nz), torch.zeros_like(nz), []
    dphi = 2 * PI / len(DIRECTIONS)
    for k, (dx, dy) in enumerate(DIRECTIONS):
        n = math.hypot(dx, dy)
        t, at = around(z, dx, dy)
        wall = torch.atan(t)
        t = torch.maximum(t, under / to_edge(torch.full_like(Xs, dx / n), torch.full_like(Xs, dy / n)))
        h, ch = torch.atan(t), torch.rsqrt(1 + t * t)
        sh = t * ch
        nh = (nx * dx + ny * dy) / n
        low = nh * (h + sh * ch) / 2 + nz * sh * sh / 2             # facing(h)
        sky = (nh * (PI / 4) + nz / 2 - low).clamp(min=0)           # facing(pi/2) - facing(h)
        a, b = radiance[k]
        up = nh * ch ** 3 / 3 + nz * (1 - sh ** 3) / 3              # sky that brightens or darkens toward the zenith
        E = E + (a * sky + b * up.clamp(min=0)) * (dphi / PI)
        open_ = open_ + sky * (dphi / PI)
        g = torch.minimum(-torch.atan2(nh, nz), wall)               # the cell's own tangent plane
        facing = lambda a: nh * (a + torch.sin(a) * torch.cos(a)) / 2 + nz * torch.sin(a) ** 2 / 2
        seen.append((dx, dy, at, (facing(wall) - facing(g)).clamp(min=0) * (dphi / PI)))
    return E, open_, seen


def bounce(E, seen):
    """Light that comes from the walls seen below the horizon: one bounce."""
    out = torch.zeros_like(E)
    for dx, dy, at, wall in seen:
        out = out + sample(E, Xs + at * (dx * STEP), Ys + at * (dy * STEP)) * wall
    return out


def horizon_toward(z, ca, sa):
    """The tangent of the horizon toward the direction (ca, sa) of each shaded cell."""
    if triton and z.is_cuda:
        out = torch.empty(z.shape[0], CY, CX, device=dev)
        _toward[(triton.cdiv(out.numel(), 1024),)](z, ca.expand_as(out).contiguous(), sa.expand_as(out).contiguous(), out, out.numel(), GX, GY, CX, CY, PX, PY, 1024)
        return out
    z0 = crop(z)
    h = torch.zeros_like(z0)
    for s in REACH:
        h = torch.maximum(h, (sample(z, Xs + ca * s, Ys + sa * s) - z0) / s)
    return h


def reflect(nx, ny, nz, lx, ly, lz, vx, vy, vz, rough, spec):
    """Light thrown toward the camera: Burley's diffuse with a rough dielectric's GGX lobe (both from memory), times n.l.
    Returns diffuse (for albedo 1) and specular."""
    nl = (nx * lx + ny * ly + nz * lz).clamp(min=0)
    nv = (nx * vx + ny * vy + nz * vz).clamp(min=0.05)
    hx, hy, hz = lx + vx, ly + vy, lz + vz
    hn = torch.rsqrt(hx ** 2 + hy ** 2 + hz ** 2 + 1e-9)
    hx, hy, hz = hx * hn, hy * hn, hz * hn
    lh, nh = (lx * hx + ly * hy + lz * hz).clamp(0, 1), (nx * hx + ny * hy + nz * hz).clamp(0, 1)
    f90 = 0.5 + 2 * rough * lh ** 2
    diff = (1 + (f90 - 1) * (1 - nl) ** 5) * (1 + (f90 - 1) * (1 - nv) ** 5) * nl
    a2 = rough ** 4
    D = a2 / (PI * (nh ** 2 * (a2 - 1) + 1) ** 2)
    g = 0.5 / (nl * torch.sqrt(nv ** 2 * (1 - a2) + a2) + nv * torch.sqrt(nl ** 2 * (1 - a2) + a2) + 1e-4)
    f0 = 0.08 * spec
    fr = f0 + (1 - f0) * (1 - lh) ** 5
    return diff, D * g * fr * nl * PI


def staying(B, photos, p):
    """A function that gives the photos of an imprint their first one's number, with the probability p for each imprint."""
    if photos == 1:
        return lambda t: t
    same = each(chance(B // photos, p), photos) > 0
    return lambda t: torch.where(same, each(t[::photos], photos), t)


def lamps(B, z, n, view, rough, spec, under, photos=1):
    """Up to three lamps: windows, panels and bulbs, with soft shadows of the walls and of the frame's edge.  From one photo of
    an imprint to the next the first is moved, as a rule, and the others are the room's and stay in every second."""
    nx, ny, nz = n
    zc = crop(z)
    diff, shine, flat = torch.zeros_like(zc), torch.zeros_like(zc), torch.zeros_like(zc)
    for k, p in enumerate((0.85, 0.4, 0.12)):
        stay = staying(B, photos, 0.5 if k else 0.1)
        on, el = stay(chance(B, p)), stay(torch.where(chance(B, 0.25) > 0, uni(B, 1.1, 1.55), uni(B, 0.2, 1.25)))
        turn = uni(B, 0, 2 * PI)                                    # the second lamp often stands across from the first
        az = stay(turn if k == 0 else torch.where(chance(B, 0.3 * (k == 1)) > 0, az + PI + nor(B, 0.4), turn))
        dist, size = stay(uni(B, 500, 2800)), stay(torch.where(chance(B, 0.2) > 0, uni(B, 20, 150), uni(B, 150, 1300)))
        power = stay(uni(B, 0.2, 1.4))
        ca, sa, ce, se = torch.cos(az), torch.sin(az), torch.cos(el), torch.sin(el)
        lx, ly, lz = dist * ce * ca - Xs, dist * ce * sa - Ys, dist * se
        r = torch.sqrt(lx ** 2 + ly ** 2 + lz ** 2)
        flat = flat + on * power * (lz / r) * (dist / r) ** 2 * ((lx * ce * ca + ly * ce * sa + lz * se) / r).clamp(min=0)
        for q in range(4):                                          # four cells of the lamp's square
            a_, b_ = (q % 2 - 0.5 + uni(B, -0.25, 0.25)) * size / 2, (q // 2 - 0.5 + uni(B, -0.25, 0.25)) * size / 2
            lx0, ly0 = dist * ce * ca - a_ * sa - b_ * se * ca, dist * ce * sa + a_ * ca - b_ * se * sa
            lz0 = (dist * se + b_ * ce).clamp(min=40)
            lx, ly, lz = lx0 - Xs, ly0 - Ys, lz0 - zc
            r = torch.sqrt(lx ** 2 + ly ** 2 + lz ** 2)
            lx, ly, lz = lx / r, ly / r, lz / r
            h0 = torch.sqrt(lx0 ** 2 + ly0 ** 2).clamp(min=1.0)
            h = torch.maximum(horizon_toward(z, lx0 / h0, ly0 / h0), under / to_edge(lx0 / h0, ly0 / h0))
            soft = (size / dist * 0.3 / 2).clamp(min=0.02)
            sh = torch.sigmoid((lz / torch.sqrt(lx ** 2 + ly ** 2 + 1e-6) - h) / soft * 1.7)
            face = ((lx * lx0 + ly * ly0 + lz * lz0) / torch.sqrt(lx0 ** 2 + ly0 ** 2 + lz0 ** 2)).clamp(min=0)
            df, sp = reflect(nx, ny, nz, lx, ly, lz, *view, rough, spec)
            e = on * power * sh * (dist / r) ** 2 * face / 4
            diff, shine = diff + e * df, shine + e * sp
    return diff, shine, flat


def flash(B, z, n, view, C, H, rough, spec):
    on = chance(B, 0.3) * uni(B, 0.4, 3.0)
    lx, ly, lz = C[0] + nor(B, 9) - Xs, C[1] + nor(B, 9) - Ys, H - crop(z)
    r = torch.sqrt(lx ** 2 + ly ** 2 + lz ** 2)
    df, sp = reflect(*n, lx / r, ly / r, lz / r, *view, rough, spec)
    return on * df * (H / r) ** 2, on * sp * (H / r) ** 2, on * lz / r * (H / r) ** 2


def paint(B, n):
    """Stains, dirt, print and fabric: what darkens the pad without any depth.  Where n, the number of dents, is less than
    two, there are often dark stains, some of them in the dents' places: what a flat pad must not be taken for."""
    fall, cloud = uni(B, 0.4, 0.65), 0                              # from broad clouds to fine mottle
    for k, cells in enumerate((3, 6, 12, 24, 48)):
        cloud = cloud + low_noise(B, cells, CY, CX) * fall ** k * uni(B, 0.7, 1.3)
    cloud = cloud / cloud.flatten(1).std(1).view(-1, 1, 1)
    t = 1 - log_uni(B, 0.01, 0.26) * (0.5 + 0.28 * cloud).clamp(0, 1)
    for _ in range(2):
        sx, sy = uni(B, 4, 28), uni(B, 4, 22)
        r = torch.sqrt(((Xs - uni(B, -110, 110)) / sx) ** 2 + ((Ys - uni(B, -75, 75)) / sy) ** 2) + 0.12 * low_noise(B, 15, CY, CX)
        t = t * (1 - chance(B, 0.12) * uni(B, -0.1, 0.35) * torch.sigmoid((1 - r) * uni(B, 2.5, 14)))
    lone = (n < 2).float().view(B, 1, 1)
    far, drop = uni(B, 38, 85), nor(B, 12)
    placed = chance(B, 0.5)
    for side in (-1, 1):
        x0 = torch.where(placed > 0, side * far + nor(B, 6), uni(B, -100, 100))
        y0 = torch.where(placed > 0, drop + nor(B, 5), uni(B, -65, 65))
        sx, sy = uni(B, 6, 30), uni(B, 6, 30)
        r = torch.sqrt(((Xs - x0) / sx) ** 2 + ((Ys - y0) / sy) ** 2) + uni(B, 0, 0.2) * low_noise(B, 15, CY, CX)
        dark = torch.maximum(lone * chance(B, 0.55), chance(B, 0.06)) * uni(B, 0.1, 0.75)
        t = t * (1 - dark * torch.sigmoid((1 - r) * log_uni(B, 1.5, 25)))
    return t * (1 + low_noise(B, 100, CY, CX) * uni(B, 0, 0.02))


def camera(B, photos=1):
    """Where the phone is: height over the plane, foot point, by tilt up to about 35 degrees.  Of several photos of an imprint
    most are taken as the tool asks, from above and from either side at some 20 degrees, in any order."""
    H = log_uni(B * photos, 200, 1100)
    tilt, ta = nor(B * photos, 0.21).clamp(-0.61, 0.61), uni(B * photos, 0, 2 * PI)
    if photos > 1:
        asked = each(chance(B, 0.7), photos) > 0
        across = each(torch.where(chance(B, 0.75) > 0, nor(B, 0.3), uni(B, 0, 2 * PI)), photos)
        side = torch.rand(B, photos, device=dev).argsort(1).view(-1, 1, 1) % 3 - 1.0
        H = torch.where(asked, each(H[::photos], photos) * torch.exp(nor(B * photos, 0.08)), H)
        tilt = torch.where(asked, (side * 0.35 + nor(B * photos, 0.08)).clamp(-0.61, 0.61), tilt)
        ta = torch.where(asked, across, ta)
    return H, (H * torch.tan(tilt) * torch.cos(ta) + nor(B * photos, 12), H * torch.tan(tilt) * torch.sin(ta) + nor(B * photos, 12))


def known(C, H):
    """The camera as the tool will know it: the focal length is known to a few per cent."""
    B = H.shape[0]
    return (C[0] + nor(B, 3), C[1] + nor(B, 3)), H * torch.exp(nor(B, 0.04))


def view_map(C, H):
    return torch.stack([(C[0] - OX) / H, (C[1] - OY) / H], 1)


def to_plane(img, d, C, H, X, Y):
    """What the camera sees through the points X, Y of the frame's plane: equation (1) solved along the line of sight."""
    px, py = X, Y
    for _ in range(5):
        f = (H + sample(d, X, Y)) / H
        X, Y = C[0] + (px - C[0]) * f, C[1] + (py - C[1]) * f
    return sample(img, X, Y)


def frame_light(B, flat, sky, top):
    """The light on the frame's plane as the frame's white shows it, carried over the window: a quadratic through patches of
    a card that is a little bent and a little shiny, so it errs by some per cent, smoothly.  Beyond top it burns out."""
    low = torch.log((flat + sky).clamp(min=1e-3))
    low = low - F.softplus((low - torch.log(top)) * 30) / 30
    err = nor(B, 0.02) * Xs / 100 + nor(B, 0.02) * Ys / 70 + nor(B, 0.012) * (Xs / 100) ** 2 + nor(B, 0.012) * (Ys / 70) ** 2 + nor(B, 0.012) * Xs * Ys / 7000
    return sample(low * torch.exp(nor(B, 0.1)) + err, OX.expand(B, -1, -1), OY.expand(B, -1, -1))


def develop(B, img, white, grain=((0.0002, 0.003), (0.0001, 0.002))):
    """The phone's picture, read back as linear light: vignetting, exposure, tone curve, eight bits, noise; grain is the range
    of the fine noise and of the coarse."""
    img = img * (1 + nor(B, 0.08) * OX / 100 + nor(B, 0.08) * OY / 70 - uni(B, 0, 0.15) * ((OX / 100) ** 2 + (OY / 70) ** 2))
    q = img.flatten(1)[:, ::7].quantile(0.98, dim=1).view(-1, 1, 1)
    target = torch.where(chance(B, 0.35) > 0, uni(B, 0.75, 1.05), white)
    v = encode((img * target / q).clamp(0, 1.2))
    s = v.clamp(0, 1)
    v = v + uni(B, -0.08, 0.35) * (s * s * (3 - 2 * s) - s)
    v = v ** uni(B, 0.8, 1.25)
    v = v + torch.randn_like(v) * log_uni(B, *grain[0]) + low_noise(B, 60, 64, 104) * log_uni(B, *grain[1])
    return decode(v.clamp(0, 1))


def encode(v):
    return torch.where(v <= 0.0031308, v * 12.92, 1.055 * v.clamp(min=1e-6) ** (1 / 2.4) - 0.055)


def decode(v):
    return torch.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055).clamp(min=0) ** 2.4)


def lay_frame(B, z):
    """The frame lies on the pad's high spots, more or less flat: how far its plane is above the pad's flat surface, the part
    of it that the pad's unevenness makes, and how deep each shaded cell lies under it."""
    rim = z.flatten(1)[:, UNDER.flatten()][:, ::5].quantile(0.96, dim=1).view(-1, 1, 1).clamp(min=0)
    lie = rim + uni(B, 0.1, 0.8)
    wave = uni(B, 0, 0.8) * chance(B, 0.5) * (0.5 + 0.5 * low_noise(B, 5, CY, CX)).clamp(0, 1)
    return lie, rim, (lie + wave - crop(z)).clamp(min=0)


def seen_at(X, Y, D, C, H):
    """Where a point X, Y that lies D below the frame's plane is seen on it: equation (1) the other way."""
    f = H / (H + D)
    return C[0] + (X - C[0]) * f, C[1] + (Y - C[1]) * f


def appear(P, D, C, H):
    """Where bottoms at P (B, 2, 2), D (B, 2) deep, are seen on the frame's plane."""
    flat = lambda t: t.view(-1, 1)
    return torch.stack(seen_at(P[..., 0], P[..., 1], D, (flat(C[0]), flat(C[1])), flat(H)), -1)


def onto_level(P, C, H):
    """Points seen at P on the frame's plane, carried along their lines of sight to the plane LEVEL below it."""
    flat = lambda t: t.view(-1, 1)
    return torch.stack(seen_at(P[..., 0], P[..., 1], -LEVEL * flat(H) / (flat(H) + LEVEL), (flat(C[0]), flat(C[1])), flat(H)), -1)


def agree():
    """The fast kernels give the plain versions' numbers, or are not used."""
    global triton
    if not (triton and dev == "cuda"):
        return "plain"
    fast, z = triton, -dents(8, torch.ones(8, 2, device=dev), "foam")[0]
    a = torch.rand(8, CY, CX, device=dev) * 6.28
    try:
        one = [around(z, dx, dy) for dx, dy in DIRECTIONS] + [(horizon_toward(z, torch.cos(a), torch.sin(a)), a)]
        triton = None
        two = [around(z, dx, dy) for dx, dy in DIRECTIONS] + [(horizon_toward(z, torch.cos(a), torch.sin(a)), a)]
        gap = max(float((p - q).abs().max()) for (p, _), (q, _) in zip(one, two))
    except Exception as e:
        triton = None
        return f"plain: {e!r}"[:400]
    triton = fast if gap < 2e-3 else None
    return f"fast, gap {gap:.1e}" if triton else f"plain, gap {gap:.1e}"


def foam(B, photos=1):
    """B imprints, so many photos of each: the surface, its paint and the frame's lie are one, light, camera and phone are not."""
    d, n_dents, P, D, R, O = reliefs(B)
    lie, rim, under = lay_frame(B, -d)
    d, D, deep = d + lie, D + rim.view(B, 1), D + lie.view(B, 1)    # d now counts from the frame's plane
    z = -d
    zx = F.pad((z[:, :, 2:] - z[:, :, :-2]) / (2 * STEP), (1, 1), mode="replicate")
    zy = F.pad((z[:, None, 2:] - z[:, None, :-2]) / (2 * STEP), (0, 0, 1, 1), mode="replicate")[:, 0]
    pores = log_uni(B, 0.001, 0.025)
    zx, zy = zx + pores * low_noise(B, 120), zy + pores * low_noise(B, 120)
    rough, spec = uni(B, 0.6, 1.0), uni(B, 0, 0.5)
    albedo = torch.where(chance(B, 0.2) > 0, uni(B, 0.02, 0.1), uni(B, 0.08, 0.88))
    painted, dark = albedo * paint(B, n_dents), uni(B, 0, 0.2)
    d, z, zx, zy, under, rough, spec, albedo, painted, dark = (each(t, photos) for t in (d, z, crop(zx), crop(zy), under, rough, spec, albedo, painted, dark))
    n_dents, P, D, R, O, deep = (each(t, photos) for t in (n_dents, P, D, R, O, deep))
    B *= photos
    nz = torch.rsqrt(1 + zx ** 2 + zy ** 2)
    n = (-zx * nz, -zy * nz, nz)
    H, C = camera(B // photos, photos)
    vx, vy, vz = C[0] - Xs, C[1] - Ys, H - crop(z)
    r = torch.rsqrt(vx ** 2 + vy ** 2 + vz ** 2)
    view = (vx * r, vy * r, vz * r)
    stay = staying(B, photos, 0.5)                                  # the room's own light
    az, an, zen = stay(uni(B, 0, 2 * PI)), stay(uni(B, 0, 0.9)), stay(uni(B, -0.6, 1.2))
    uneven = stay(uni(B, 0, 0.4))
    blot = [1 + uneven * stay(uni(B, -1, 1)) for _ in DIRECTIONS]
    radiance = [((1 + an * torch.cos(math.atan2(dy, dx) - az)) * blot[k], zen) for k, (dx, dy) in enumerate(DIRECTIONS)]
    sky, open_, seen = surroundings(z, *n, radiance, under)
    bright = stay(log_uni(B, 0.04, 1.2))
    sky, level = sky.clamp(min=0) * bright, bright * sum((a + zen * 2 / 3) / len(DIRECTIONS) for a, _ in radiance)
    diff, shine, flat = lamps(B, z, n, view, rough, spec, under, photos)
    fd, fs, ff = flash(B, z, n, view, C, H, rough, spec)
    first = sky + diff + fd + 1e-3
    second = albedo * bounce(first, seen)
    third = albedo * bounce(second, seen)
    glow = (first + second + third) * painted + shine + fs + 0.02 * spec * sky
    glow = torch.where(OPEN, glow, glow * dark)                     # it is dark under the frame
    Ck, Hk = known(C, H)
    level_x, level_y = seen_at(OX, OY, torch.full_like(H, LEVEL), Ck, Hk)
    img = to_plane(glow, d, C, H, level_x, level_y)
    # a phone that exposes for a dark pad burns the card's white out, and what shines on the pad
    lit = (flat + ff + level).flatten(1).mean(1).view(B, 1, 1)
    top = torch.where(chance(B, 0.4) > 0, lit * uni(B, 0.6, 1.4), 1e3 * lit)
    light = frame_light(B, flat + ff, level, top)
    img = torch.minimum(img, 0.9 * top)
    out = develop(B, img, white=(albedo / uni(B, 0.75, 0.98)).clamp(0.02, 1) * uni(B, 0.4, 1.0))
    return dict(image=out, light=light, view=view_map(Ck, Hk), centre=onto_level(appear(P, deep, C, H), Ck, Hk), depth=D, flat=R, oblong=O, count=n_dents)


# ---- ink -----------------------------------------------------------------------------------------------------------
def ink(B):
    """Pressure-marking paper: density that grows with pressure and saturates, grain, smears, a second mark where the
    rider slid, marks that run out of the window."""
    n_dents, on = counts(B)
    d, cx, cy, kind, deep, _ = dents(B, on, "ink")
    a, far = uni(B, 0, 2 * PI), uni(B, 34, 60)
    tx, ty = cx + far * torch.cos(a) * 0.35, cy + (far * torch.sin(a)).sign() * uni(B, 28, 50)
    third = deep * uni(B, 0.75, 1.2) * torch.exp(-0.5 * ((Xg - tx) ** 2 + (Yg - ty) ** 2) / uni(B, 9, 15) ** 2)
    d = d + (n_dents == 3).float().view(B, 1, 1) * third + low_noise(B, 26) * uni(B, 0.02, 0.2)
    P, D, R, O = deepest(d, cx, kind * 0)
    pr = (d - uni(B, 0.5, 5)).clamp(min=0)
    peak = torch.maximum(pr.flatten(1).amax(1), torch.full((B,), 2.5, device=dev)).view(-1, 1, 1)
    pr = pr / peak
    dens = torch.tanh(uni(B, 0.8, 2.6) * pr ** uni(B, 0.7, 1.6))
    grain = low_noise(B, 120) * uni(B, 0, 0.05) + low_noise(B, 60) * uni(B, 0, 0.06) + torch.randn_like(d) * uni(B, 0, 0.02)
    dens = F.relu(dens + grain * (pr * 4).clamp(0.12, 1)) + 0.03 * chance(B, 0.5) * (pr * 6).clamp(0, 1) * uni(B, 0, 1)
    slid, sx, sy = chance(B, 0.25) * uni(B, 0.25, 0.8), uni(B, -7, 7), uni(B, -5, 5)
    dens = torch.maximum(dens, slid * sample(dens, Xg - sx, Yg - sy))
    smear, ang, run = chance(B, 0.15) * uni(B, 0.1, 0.5), uni(B, 0, 2 * PI), uni(B, 3, 14)
    for k in range(1, 4):
        dens = torch.maximum(dens, smear * (1 - k / 4) * sample(dens, Xg - run * k / 3 * torch.cos(ang), Yg - run * k / 3 * torch.sin(ang)))
    r = torch.sqrt(((Xg - uni(B, -100, 100)) / uni(B, 3, 12)) ** 2 + ((Yg - uni(B, -66, 66)) / uni(B, 3, 12)) ** 2)
    dens = torch.maximum(dens, chance(B, 0.12) * uni(B, 0.1, 0.6) * torch.sigmoid((1 - r) * 6))   # a finger's print
    dens = dens.clamp(0, 1) * ((Xg.abs() <= 106) & (Yg.abs() <= 70))
    tint = uni(B, 0.05, 0.75)
    sheet = (1 - dens * (1 - tint)) * (1 + uni(B, 0, 0.03) * low_noise(B, 10))
    E = 1 + nor(B, 0.2).clamp(-0.5, 0.5) * Xg / 130 + nor(B, 0.2).clamp(-0.5, 0.5) * Yg / 100 + uni(B, 0, 0.25) * low_noise(B, 3)
    edge = (Xg * torch.cos(a) + Yg * torch.sin(a) - uni(B, -80, 80)) / uni(B, 6, 50)             # somebody's shadow
    E = E.clamp(min=0.2) * (1 - chance(B, 0.3) * uni(B, 0, 0.35) * torch.sigmoid(edge))
    H, C = camera(B)
    top = torch.where(chance(B, 0.35) > 0, uni(B, 0.65, 1.3), uni(B, 9, 10)) * E.flatten(1).mean(1).view(B, 1, 1)
    img = torch.minimum(sample(sheet * E, OX.expand(B, -1, -1), OY.expand(B, -1, -1)), top)   # white paper burns out first
    out = develop(B, img, uni(B, 0.3, 0.95), ((0.0003, 0.004), (0.0002, 0.0025)))
    return dict(image=out, light=out * 0, view=view_map(C, H) * 0, centre=P, depth=D * 0, flat=R, oblong=O, count=n_dents)
