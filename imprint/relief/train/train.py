"""Trains one of the two nets and exports it.

    train.py MEDIUM --steps N [--seed S] [--batch B] [--reuse R] [--pool P] [--resume CKPT] [--stop-step M] [--eval eval.npz] --out DIR

MEDIUM is foam or ink.  The recipe is recipe.py beside this file.  Drawing imprints takes longer than learning from them, so each batch
drawn goes into a pool of the last P, from which R steps are made, half of every step's imprints seen in a mirror.
Several GPUs share a run when each has a process of its own with RANK, WORLD_SIZE, MASTER_ADDR and MASTER_PORT in its
environment: every process draws its own imprints, and all make the same step, by the mean of their gradients.
Needs PyTorch and a GPU; the tool itself needs neither:
it reads the exported ONNX (opset 11) by OpenCV's DNN module.  What goes in and what comes out is the contract of the Go
package one folder up (input.go, read.go), which normalises and reads in exactly the way that norm() and read() do here.

Output channels of the net, on the grid of the window (64 rows, 104 columns):
  0,1   score of "the left/right centre is here" (softmax over the window)
  2,3   ln variance of x, left/right       4,5   ln variance of y (mm^2)
  6,7   depth / 10 mm                      8,9   ln variance of (depth / 10 mm)
  10,11 flat radius / 10 mm                12,13 oblong cos part   14,15 oblong sin part   16,17 ln variance of oblong
  18    ln variance of the spacing (mm^2), read at both centres and averaged
  19-22 scores of no dent, one, two, more (averaged over the window)
"""
import argparse, copy, json, math, os, time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
import torch.distributed as dist
from torch.nn.utils.fusion import fuse_conv_bn_eval

import recipe
from recipe import OX, OY, dev

CHANNELS = 23
PEAK = 2e-3                              # the largest learning rate
ALONE, PAIRS = 0.4, 0.85                 # of imprints with several photos: seen photo by photo; from here on two photos only
WIDTHS = {"foam": (32, 64, 96, 120), "ink": (24, 48, 64, 80)}
bx = torch.stack([torch.ones_like(OX), OX / 100, OY / 70, (OX / 100) ** 2, (OY / 70) ** 2, OX * OY / 7000], -1).reshape(-1, 6)
Qb, _ = torch.linalg.qr(bx)
CLEAR = ((OX.abs() < 92) & (OY.abs() < 56)).flatten()    # where the frame's own shadow hardly ever falls
_, Rc = torch.linalg.qr(bx[CLEAR])
Qc = bx @ torch.linalg.inv(Rc)                          # orthonormal over the clear part, and going on beyond it


def norm(img, view, light=None):
    """Log of linear light, quadratic background taken off, robustly scaled; contrast, position and view beside it.  On foam
    the background is that of the window's clear part, since the frame's shadow darkens the rest.
    With the light on the frame's plane given, the log of the pad's brightness over it comes last, its median taken off."""
    l = torch.log(img.clamp(min=0.0015)).flatten(1)
    over = None
    if light is not None:
        over = l - light.flatten(1)
        over = ((over - over.median(1, keepdim=True).values) / 0.15).clamp(-6, 6).view(-1, 1, *OX.shape)
    if light is None:
        l = l - (l @ Qb) @ Qb.T
    else:
        l = l - (l[:, CLEAR] @ Qc[CLEAR]) @ Qc.T
    s = l.abs().median(1, keepdim=True).values * 1.48 + 0.006
    l = (l / s).clamp(-6, 6).view(-1, 1, *OX.shape)
    c = torch.log(s).view(-1, 1, 1, 1).expand(-1, 1, *OX.shape) / 2 + 1
    xy = torch.stack([OX / 100, OY / 70])[None].expand(l.shape[0], -1, -1, -1)
    return torch.cat([l, c, xy, view.clamp(-1.5, 1.5)] + ([over] if over is not None else []), 1)


def blk(i, o):
    return nn.Sequential(nn.Conv2d(i, o, 3, padding=1), nn.BatchNorm2d(o), nn.SiLU(), nn.Conv2d(o, o, 3, padding=1), nn.BatchNorm2d(o), nn.SiLU())


class Residual(nn.Module):
    """A block added to what it was given, each channel weighed by what the whole window shows: light is the same all over."""

    def __init__(s, w):
        super().__init__()
        s.b = blk(w, w)
        s.g = nn.Sequential(nn.Conv2d(w, w // 4, 1), nn.SiLU(), nn.Conv2d(w // 4, w, 1), nn.Sigmoid())

    def forward(s, t):
        r = s.b(t)
        return t + r * s.g(F.adaptive_avg_pool2d(r, 1))


class Exchange(nn.Module):
    """Tells each photo of an imprint what all of them show on average; alone a photo tells itself."""

    def __init__(s, w):
        super().__init__()
        s.c = nn.Conv2d(w, w, 1, bias=False)
        nn.init.zeros_(s.c.weight)

    def forward(s, t, photos, alone):
        return t + s.c(mean_of(t, photos, alone))


def mean_of(t, photos, alone):
    """The mean over the photos of each imprint, for each of them; itself for those that are alone (a flag an imprint)."""
    if photos == 1:
        return t
    if alone is None:                    # as exported: one imprint, and nothing but sums and joins of its photos
        return torch.cat([sum(t[k:k + 1] for k in range(photos)) / photos] * photos, 0)
    g = t.view(-1, photos, *t.shape[1:])
    return torch.where(alone.view(-1, 1, 1, 1, 1), g, g.mean(1, keepdim=True)).view(t.shape)


class Net(nn.Module):
    def __init__(s, w, inputs=6, deep=0, fine=0, exchange=False):
        super().__init__()
        s.d = nn.ModuleList([blk(inputs, w[0]), blk(w[0], w[1]), blk(w[1], w[2]), blk(w[2], w[3])])
        s.m = nn.Sequential(blk(w[3], w[3]), *[Residual(w[3]) for _ in range(deep)])
        s.u = nn.ModuleList([blk(w[3] + w[2], w[2]), blk(w[2] + w[1], w[1]), blk(w[1] + w[0], w[0])])
        s.fd, s.fu = (nn.Sequential(*[Residual(w[2]) for _ in range(fine)]) for _ in (0, 1))
        at = (w[0], w[1], w[2], w[3], w[3], w[2], w[1], w[0]) if exchange else ()
        s.x = nn.ModuleList([Exchange(k) for k in at])
        s.o = nn.Conv2d(w[0], CHANNELS, 1)

    def forward(s, t, photos=1, alone=None):
        tell = lambda i, t: s.x[i](t, photos, alone) if len(s.x) else t
        k = []
        for i, b in enumerate(s.d):
            t = b(t if i == 0 else F.avg_pool2d(t, 2))
            t = tell(i, s.fd(t) if i == 2 else t)
            k.append(t)
        t = tell(4, s.m(t))
        for i, b in enumerate(s.u):
            t = b(torch.cat([F.interpolate(t, scale_factor=2, mode="bilinear"), k[2 - i]], 1))
            t = tell(5 + i, s.fu(t) if i == 0 else t)
        return s.o(t)


X, Y = OX.flatten(), OY.flatten()


def read(o):
    """The net's maps as numbers: a soft-argmax within some 10 mm of each peak, everything else weighted alike."""
    o = o.float()
    p = o[:, :2].flatten(2).softmax(-1)
    i = p.argmax(-1)
    w = torch.exp(-0.5 * ((X - X[i][..., None]) ** 2 + (Y - Y[i][..., None]) ** 2) / 10 ** 2)
    q = p * w
    q = q / q.sum(-1, keepdim=True)
    at = lambda c: (q * o[:, c:c + 2].flatten(2)).sum(-1)
    return dict(centre=torch.stack([(q * X).sum(-1), (q * Y).sum(-1)], -1), lv=torch.stack([at(2), at(4)], -1), depth=at(6) * 10,
                lvd=at(8), flat=at(10) * 10, oblong=torch.stack([at(12), at(14)], -1), lvo=at(16),
                lvs=(q * o[:, 18:19].flatten(2)).sum(-1).mean(1), count=o[:, 19:23].flatten(2).mean(-1), peak=p.amax(-1))


def nll(r2, lv, cap=14.0):
    return (r2 / torch.exp(lv.clamp(-9, 9)) / 2 + lv / 2).clamp(max=cap)


def loss_of(o, t, medium="foam", place=0.5, apart=0.0):
    A, n = t["centre"], t["count"]
    inside = ((A[..., 0].abs() < 104) & (A[..., 1].abs() < 66)).all(1)
    ok = ((n == 2) & inside).float()
    tgt = torch.exp(-0.5 * ((X - A[..., 0:1]) ** 2 + (Y - A[..., 1:2]) ** 2) / 3 ** 2)
    tgt = tgt / tgt.sum(-1, keepdim=True).clamp(min=1e-6)
    ce = -(tgt * o[:, :2].flatten(2).float().log_softmax(-1)).sum(-1).mean(1)
    r = read(o)
    e = r["centre"] - A
    near = (e.pow(2).sum(-1) < 15 ** 2).float()
    pos = (nll(e ** 2, r["lv"]).sum(-1) * near).mean(1)
    es = (r["centre"][:, 1] - r["centre"][:, 0]).norm(dim=-1) - (A[:, 1] - A[:, 0]).norm(dim=-1)
    spc = nll(es ** 2, r["lvs"]) * near.prod(1)
    huber = F.smooth_l1_loss(r["centre"], A, beta=1.0, reduction="none").sum(-1).mul(near).mean(1)
    gap = F.smooth_l1_loss(es, torch.zeros_like(es), beta=0.5, reduction="none") * near.prod(1)
    dep = nll(((r["depth"] - t["depth"]) / 10) ** 2, r["lvd"]).mean(1)
    flat = F.smooth_l1_loss(r["flat"] / 10, t["flat"] / 10, beta=0.2, reduction="none").mean(1)
    obl = (nll((r["oblong"] - t["oblong"]) ** 2, r["lvo"][..., None]).sum(-1)).mean(1)
    cnt = F.cross_entropy(r["count"], n, reduction="none")
    if medium == "ink":                 # ink has no depth, and a target that never varies would only teach a vanishing variance
        dep = dep * 0
    total = ((ce + 0.25 * pos + 0.35 * spc + place * huber + apart * gap + 0.25 * dep + 0.3 * flat + 0.1 * obl) * ok + 0.3 * cnt).mean()
    return total, r, es[ok > 0], t["depth"][ok > 0] - r["depth"][ok > 0]


def flip(a):
    """The same window seen in a mirror: x turns round, left and right change places."""
    b = a.flip(-1).clone()
    b[:, 2], b[:, 4] = -b[:, 2], -b[:, 4]
    return b


def mirrored(t):
    """What is true of an imprint seen in a mirror: flip()'s other half."""
    turn = torch.tensor([-1.0, 1.0], device=dev)
    swap = lambda v: v.flip(1)
    return dict(centre=swap(t["centre"]) * turn, depth=swap(t["depth"]), flat=swap(t["flat"]),
                oblong=swap(t["oblong"]) * -turn, count=t["count"])


TRUTHS = ("centre", "depth", "flat", "oblong", "count")


class Pool:
    """The last batches drawn: what the net sees of them, and the truth."""

    def __init__(s, make, batch, photos, light, batches):
        s.make, s.photos, s.light, s.drawn = make, photos, light, 0
        s.batch = batch // photos       # imprints in a batch
        s.size = batches * s.batch

    def draw(s):
        """Draws one batch and puts it in the place of the oldest."""
        t = s.make(s.batch, s.photos) if s.photos > 1 else s.make(s.batch)
        inp = norm(t["image"], t["view"], t["light"] if s.light else None).half()
        if s.drawn == 0:
            s.inp = torch.empty(s.size, s.photos, *inp.shape[1:], device=dev, dtype=torch.half)
            s.truth = {k: torch.empty(s.size, s.photos, *t[k].shape[1:], device=dev, dtype=t[k].dtype) for k in TRUTHS}
        at = s.drawn * s.batch % s.size
        s.inp[at:at + s.batch] = inp.view(s.batch, s.photos, *inp.shape[1:])
        for k in TRUTHS:
            s.truth[k][at:at + s.batch] = t[k].view(s.batch, s.photos, *t[k].shape[1:])
        s.drawn += 1

    def take(s):
        """One step's imprints, the first half of them mirrored, and which of them the net shall see photo by photo.  Of
        the others some have two photos only: the first once more in the third's place."""
        i = torch.randint(0, min(s.drawn * s.batch, s.size), (s.batch,), device=dev)
        inp, t, h = s.inp[i].float(), {k: v[i] for k, v in s.truth.items()}, s.batch // 2
        fate = torch.rand(s.batch, device=dev)
        if s.photos == 3:
            two = (fate > PAIRS).view(-1, 1)
            for v in (inp, *t.values()):
                v[:, 2] = torch.where(two.view(-1, *[1] * (v.dim() - 2)), v[:, 0], v[:, 2])
        inp, t, h = inp.flatten(0, 1), {k: v.flatten(0, 1) for k, v in t.items()}, h * s.photos
        m = mirrored({k: v[:h] for k, v in t.items()})
        return torch.cat([flip(inp[:h]), inp[h:]]), {k: torch.cat([m[k], t[k][h:]]) for k in TRUTHS}, fate < ALONE


def evaluate(net, path, medium, verbose=False, light=False, photos=1):
    """The reading of photos with known truth, one by one or so many together, as prep.py wrote them."""
    if not path or not os.path.exists(path):
        return
    Z = np.load(path)
    I, L, V, D = (torch.tensor(Z[medium + "_" + k], device=dev, dtype=torch.float32) for k in "ILVD")
    net.eval()
    alone = torch.zeros(1, dtype=torch.bool, device=dev)
    with torch.no_grad():
        a = norm(I, V if medium == "foam" else V * 0, torch.tensor(Z[medium + "_F"], device=dev, dtype=torch.float32) if light else None)
        r, f = (read(torch.cat([net(b[k:k + photos], photos, alone) for k in range(0, len(b), photos)])) for b in (a, flip(a)))
    m2 = f["centre"].flip(1) * torch.tensor([-1.0, 1.0], device=dev)
    m = (r["centre"] + m2) / 2
    true = (L[:, 1] - L[:, 0]).norm(dim=-1)
    e, e1 = (m[:, 1] - m[:, 0]).norm(dim=-1) - true, (r["centre"][:, 1] - r["centre"][:, 0]).norm(dim=-1) - true
    s = torch.exp(0.5 * r["lvs"])
    dd = ((r["depth"] + f["depth"].flip(1)) / 2 - D)
    if verbose:
        for k, name in enumerate(Z[medium + "_N"]):
            print(name, "err %+.2f s %.2f" % (e[k], s[k]), "L", [round(v, 1) for v in (m[k, 0] - L[k, 0]).tolist()], "R", [round(v, 1) for v in (m[k, 1] - L[k, 1]).tolist()],
                  "depth", [round(v, 1) for v in dd[k].tolist()], "count", int(r["count"][k].argmax()))
    e, e1, s = (v.view(-1, photos).mean(1) for v in (e, e1, s))
    q = e.abs().sort().values[:int(0.9 * len(e))]
    print(f"  {len(e)} of {photos} {medium} photos: rms %.2f (one view %.2f) the best 90 %% %.2f median %.2f bias %+.2f worst %.2f  |  e/s rms %.2f  | depth rms %.2f bias %+.2f" %
          (e.pow(2).mean().sqrt(), e1.pow(2).mean().sqrt(), q.pow(2).mean().sqrt(), e.abs().median(), e.mean(), e.abs().max(), (e / s).pow(2).mean().sqrt(), dd.pow(2).mean().sqrt(), dd.mean()), flush=True)
    net.train()


class Crew:
    """The processes that share a run; one process alone needs no other."""

    def __init__(s):
        s.rank, s.size = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
        if s.size > 1:
            dist.init_process_group("nccl" if dev == "cuda" else "gloo")

    def mean_gradients(s, net):
        """Every gradient becomes its mean over all processes."""
        if s.size == 1:
            return
        g = [p.grad for p in net.parameters()]
        flat = torch.cat([v.flatten() for v in g])
        dist.all_reduce(flat)
        at = 0
        for v in g:
            v.copy_(flat[at:at + v.numel()].view_as(v) / s.size)
            at += v.numel()

    def any(s, yes):
        """Whether any process says yes."""
        if s.size == 1:
            return yes
        v = torch.tensor(float(yes), device=dev)
        dist.all_reduce(v)
        return v.item() > 0


def fused(net):
    """The net with each normalisation in the convolution before it, which leaves every weight a name of its own."""
    net = copy.deepcopy(net)
    for m in net.modules():
        if isinstance(m, nn.Sequential):
            for i in range(len(m) - 1):
                if isinstance(m[i], nn.Conv2d) and isinstance(m[i + 1], nn.BatchNorm2d):
                    m[i], m[i + 1] = fuse_conv_bn_eval(m[i], m[i + 1]), nn.Identity()
    return net


def export(net, out, tag, inputs, photos):
    """TAG.onnx reads one photo; with several, TAG-together.onnx so many of one imprint, by the same weights.  Nets for several
    photos are stored small: the weights as halves, and in TAG.onnx alone."""
    for n, name in [(1, tag)] + ([(photos, tag + "-together")] if photos > 1 else []):
        path = f"{out}/{name}.onnx"
        torch.onnx.export(Together(net, n), torch.zeros(n, inputs, 64, 104, device=dev), path, opset_version=11, input_names=["x"], output_names=["y"],
                          **({"dynamo": False} if torch.__version__ >= "2" else {}))
        if photos > 1:
            store_small(path, n == 1)


def store_small(path, weights):
    """Rewrites an ONNX file with its weights as halves, or without their values, which the tool fills in.  The numbers are
    those of onnx.proto: a model's graph is field 7, a graph's initializer 5; of a tensor data_type is 2 (1 float, 10 half), raw_data 9."""
    def tensor(b):
        keep, raw = b"", b""
        for number, whole, payload in fields(b):
            if number == 9:
                raw = np.frombuffer(payload, "<f4").astype("<f2").tobytes()
            elif number != 2:
                keep += whole
        return keep + b"\x10\x0a" + (chunk(9, raw) if weights else b"")

    def graph(b):
        return b"".join(chunk(5, tensor(p)) if number == 5 else whole for number, whole, p in fields(b))

    model = open(path, "rb").read()
    with open(path, "wb") as f:
        f.write(b"".join(chunk(7, graph(p)) if number == 7 else whole for number, whole, p in fields(model)))


def varint(b, i):
    v = s = 0
    while True:
        v, s, i = v | (b[i] & 127) << s, s + 7, i + 1
        if b[i - 1] < 128:
            return v, i


def fields(b):
    """The fields of a protocol buffer's message: number, the whole field, its payload where it has a length."""
    i = 0
    while i < len(b):
        start = i
        key, i = varint(b, i)
        if key & 7 == 2:
            n, i = varint(b, i)
            i += n
            yield key >> 3, b[start:i], b[i - n:i]
        elif key & 7 == 0:
            _, i = varint(b, i)
            yield key >> 3, b[start:i], b""
        else:
            raise ValueError("a field of this kind is not expected in an exported model")


def chunk(number, payload):
    head, n = bytes([number << 3 | 2]), len(payload)
    while n > 127:
        head, n = head + bytes([n & 127 | 128]), n >> 7
    return head + bytes([n]) + payload


class Together(nn.Module):
    """The net as it is exported, for so many photos."""

    def __init__(s, net, photos):
        super().__init__()
        s.net, s.photos = net, photos

    def forward(s, t):
        return s.net(t, s.photos)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("medium", choices=("foam", "ink"))
    ap.add_argument("--steps", type=int, required=True)
    ap.add_argument("--stop-step", type=int, default=0)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--batch", type=int, default=512)
    ap.add_argument("--reuse", type=int, default=1, help="steps made for each batch drawn")
    ap.add_argument("--pool", type=int, default=1, help="batches kept to choose a step's imprints from")
    ap.add_argument("--widths", default="", help="four channel counts with commas, instead of the medium's own")
    ap.add_argument("--deep", type=int, default=0, help="residual blocks at the coarsest level")
    ap.add_argument("--fine", type=int, default=0, help="residual blocks at a quarter of the resolution, down and up")
    ap.add_argument("--photos", type=int, default=1, help="photos of each imprint: the net learns to read them together, too (foam)")
    ap.add_argument("--place", type=float, default=0.5, help="weight of the centres' distance from the truth in the loss")
    ap.add_argument("--apart", type=float, default=0.0, help="weight of the spacing's distance from the truth in the loss")
    ap.add_argument("--light", action="store_true", help="give the net the frame's light too")
    ap.add_argument("--seconds", type=float, default=1e9, help="stop early after so long; the checkpoint goes on from there")
    ap.add_argument("--resume", default="", help="go on with a run that was stopped")
    ap.add_argument("--eval", default="")
    ap.add_argument("--eval-together", default="", help="photos that follow one another by threes are of one imprint")
    ap.add_argument("--tag", default="")
    ap.add_argument("--out", required=True)
    a = ap.parse_args()
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(a.seed)
    widths = tuple(int(w) for w in a.widths.split(",")) if a.widths else WIDTHS[a.medium]
    inputs = 7 if a.light else 6
    make = recipe.foam if a.medium == "foam" else recipe.ink
    shape = (widths, inputs, a.deep, a.fine, a.photos > 1)
    net = Net(*shape).to(dev).to(memory_format=torch.channels_last)
    shadow = Net(*shape).to(dev)
    shadow.load_state_dict(net.state_dict())
    print("horizons:", recipe.agree(), flush=True)
    crew = Crew()
    torch.manual_seed(a.seed + 1000 + 7919 * crew.rank)
    print("parameters", sum(p.numel() for p in net.parameters()), flush=True)
    opt = torch.optim.AdamW(net.parameters(), PEAK, weight_decay=1e-4)
    it = 0
    if a.resume:
        ck = torch.load(a.resume, map_location=dev)
        net.load_state_dict(ck["net"]), shadow.load_state_dict(ck["shadow"])
        it = ck["it"]
        torch.manual_seed(a.seed + it + 7919 * crew.rank)
    t0, stop = time.time(), a.stop_step or a.steps
    tag = a.tag or a.medium
    pool, drawing = Pool(make, a.batch, a.photos, a.light, a.pool), 0.0
    while it < stop and not (it % 25 == 0 and crew.any(time.time() - t0 > a.seconds)):
        fr = it / a.steps
        for g in opt.param_groups:
            g["lr"] = PEAK * min(1, it / 400) * (0.5 + 0.5 * math.cos(math.pi * fr)) + 5e-6
        with torch.no_grad():
            if it % a.reuse == 0:
                watch = it % (50 * a.reuse) == 0 and dev == "cuda"
                if watch:
                    torch.cuda.synchronize()
                t1 = time.time()
                pool.draw()
                if watch:
                    torch.cuda.synchronize()
                    drawing = time.time() - t1
            inp, t, alone = pool.take()
        with torch.autocast(dev, dtype=torch.bfloat16, enabled=dev == "cuda"):
            o = net(inp.contiguous(memory_format=torch.channels_last), a.photos, alone)
        loss, r, es, ed = loss_of(o.float(), t, a.medium, a.place, a.apart)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        crew.mean_gradients(net)
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        opt.step()
        it += 1
        with torch.no_grad():
            k = min(0.9995, 1 - 1 / (1 + it / 4))
            for s, p in zip(shadow.state_dict().values(), net.state_dict().values()):
                if s.dtype.is_floating_point:
                    s.lerp_(p, 1 - k)
                else:
                    s.copy_(p)
        if it % 800 == 0 and crew.rank == 0:
            print(it, int(time.time() - t0), "s (draw %.3f)" % drawing, "loss %.3f sim rms %.2f med %.2f depth %.2f count %.3f" % (
                  loss.detach().item(), *(v.detach().item() for v in (es.pow(2).mean().sqrt(), es.abs().median(), ed.pow(2).mean().sqrt())), (r["count"].argmax(1) == t["count"]).float().mean()), flush=True)
            evaluate(shadow, a.eval, a.medium, False, a.light)
            evaluate(shadow, a.eval_together, a.medium, False, a.light, a.photos)
    if crew.rank > 0:
        return
    evaluate(shadow, a.eval, a.medium, True, a.light)
    evaluate(shadow, a.eval_together, a.medium, True, a.light, a.photos)
    torch.save(dict(net=net.state_dict(), shadow=shadow.state_dict(), it=it), f"{a.out}/{tag}.ckpt")
    shadow.eval()
    export(fused(shadow), a.out, tag, inputs, a.photos)
    json.dump(dict(medium=a.medium, seed=a.seed, steps=a.steps, batch=a.batch, reuse=a.reuse, pool=a.pool, widths=widths, inputs=inputs, deep=a.deep, fine=a.fine, photos=a.photos,
                   place=a.place, apart=a.apart, processes=crew.size, reached=it, torch=torch.__version__), open(f"{a.out}/{tag}.json", "w"))
    with torch.no_grad():
        torch.manual_seed(12345)
        t = make(2, a.photos) if a.photos > 1 else make(2)
        inp = norm(t["image"], t["view"], t["light"] if a.light else None)
        out, together = shadow(inp), shadow(inp[:a.photos], a.photos)
    np.savez_compressed(f"{a.out}/{tag}-io.npz", image=t["image"].cpu().numpy(), view=t["view"].cpu().numpy(), x=inp.cpu().numpy(), y=out.cpu().numpy(), together=together.cpu().numpy(), centre=t["centre"].cpu().numpy())


if __name__ == "__main__":
    main()
