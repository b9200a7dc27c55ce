"""Trains one of the two nets and exports it.

    train.py MEDIUM --steps N [--seed S] [--batch B] [--reuse R] [--pool P] [--resume CKPT] [--stop-step M] [--eval eval.npz] --out DIR

MEDIUM is foam or ink.  The recipe is recipe.py beside this file.  Drawing imprints takes longer than learning from them, so each batch
drawn goes into a pool of the last P, from which R steps are made, half of every step's imprints seen in a mirror.
Several GPUs share a run when each has a process of its own with RANK, WORLD_SIZE, MASTER_ADDR and MASTER_PORT in its
environment: every process draws its own imprints, and all make the same step, by the mean of their gradients.
Needs PyTorch and a GPU; the tool itself needs neither:
it reads the exported ONNX (opset 11) by OpenCV's DNN module.  What goes in and what comes out is the contract of the Go
package one folder up (net.go), which normalises and reads in exactly the way that norm() and read() do here.

Output channels of the net, on the grid of the window (64 rows, 104 columns):
  0,1   score of "the left/right centre is here" (softmax over the window)
  2,3   ln variance of x, left/right       4,5   ln variance of y (mm^2)
  6,7   depth / 10 mm                      8,9   ln variance of (depth / 10 mm)
  10,11 flat radius / 10 mm                12,13 oblong cos part   14,15 oblong sin part   16,17 ln variance of oblong
  18    ln variance of the spacing (mm^2), read at both centres and averaged
  19-22 scores of no dent, one, two, more (averaged over the window)
"""
import argparse, json, math, os, time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
import torch.distributed as dist

import recipe
from recipe import OX, OY, dev

CHANNELS = 23
PEAK = 2e-3                              # the largest learning rate
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
    def __init__(s, w):
        super().__init__()
        s.b = blk(w, w)

    def forward(s, t):
        return t + s.b(t)


class Net(nn.Module):
    def __init__(s, w, inputs=6, deep=0):
        super().__init__()
        s.d = nn.ModuleList([blk(inputs, w[0]), blk(w[0], w[1]), blk(w[1], w[2]), blk(w[2], w[3])])
        s.m = nn.Sequential(blk(w[3], w[3]), *[Residual(w[3]) for _ in range(deep)])
        s.u = nn.ModuleList([blk(w[3] + w[2], w[2]), blk(w[2] + w[1], w[1]), blk(w[1] + w[0], w[0])])
        s.o = nn.Conv2d(w[0], CHANNELS, 1)

    def forward(s, t):
        k = []
        for i, b in enumerate(s.d):
            t = b(t if i == 0 else F.avg_pool2d(t, 2))
            k.append(t)
        t = s.m(t)
        for i, b in enumerate(s.u):
            t = b(torch.cat([F.interpolate(t, scale_factor=2, mode="bilinear"), k[2 - i]], 1))
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

    def __init__(s, make, batch, light, batches):
        s.make, s.batch, s.light, s.size, s.drawn = make, batch, light, batches * batch, 0

    def draw(s):
        """Draws one batch and puts it in the place of the oldest."""
        t = s.make(s.batch)
        inp = norm(t["image"], t["view"], t["light"] if s.light else None).half()
        if s.drawn == 0:
            s.inp = torch.empty(s.size, *inp.shape[1:], device=dev, dtype=torch.half)
            s.truth = {k: torch.empty(s.size, *t[k].shape[1:], device=dev, dtype=t[k].dtype) for k in TRUTHS}
        at = s.drawn * s.batch % s.size
        s.inp[at:at + s.batch] = inp
        for k in TRUTHS:
            s.truth[k][at:at + s.batch] = t[k]
        s.drawn += 1

    def take(s):
        """One step's imprints, the first half of them mirrored."""
        i = torch.randint(0, min(s.drawn * s.batch, s.size), (s.batch,), device=dev)
        inp, t, h = s.inp[i].float(), {k: v[i] for k, v in s.truth.items()}, s.batch // 2
        m = mirrored({k: v[:h] for k, v in t.items()})
        return torch.cat([flip(inp[:h]), inp[h:]]), {k: torch.cat([m[k], t[k][h:]]) for k in TRUTHS}


def evaluate(net, path, medium, verbose=False, light=False):
    if not path or not os.path.exists(path):
        return
    Z = np.load(path)
    I = torch.tensor(Z[medium + "_I"], device=dev, dtype=torch.float32)
    L = torch.tensor(Z[medium + "_L"], device=dev, dtype=torch.float32)
    V = torch.tensor(Z[medium + "_V"], device=dev, dtype=torch.float32)
    D = torch.tensor(Z[medium + "_D"], device=dev, dtype=torch.float32)
    net.eval()
    with torch.no_grad():
        a = norm(I, V if medium == "foam" else V * 0, torch.tensor(Z[medium + "_F"], device=dev, dtype=torch.float32) if light else None)
        r, f = read(net(a)), read(net(flip(a)))
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
    print(f"  {medium} photos: rms %.2f (one view %.2f) bias %+.2f worst %.2f  |  e/s rms %.2f  | depth rms %.2f bias %+.2f" %
          (e.pow(2).mean().sqrt(), e1.pow(2).mean().sqrt(), e.mean(), e.abs().max(), (e / s).pow(2).mean().sqrt(), dd.pow(2).mean().sqrt(), dd.mean()), flush=True)
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
    ap.add_argument("--place", type=float, default=0.5, help="weight of the centres' distance from the truth in the loss")
    ap.add_argument("--apart", type=float, default=0.0, help="weight of the spacing's distance from the truth in the loss")
    ap.add_argument("--light", action="store_true", help="give the net the frame's light too")
    ap.add_argument("--seconds", type=float, default=1e9, help="stop early after so long; the checkpoint goes on from there")
    ap.add_argument("--resume", default="", help="go on with a run that was stopped")
    ap.add_argument("--eval", default="")
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
    net = Net(widths, inputs, a.deep).to(dev).to(memory_format=torch.channels_last)
    shadow = Net(widths, inputs, a.deep).to(dev)
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
    pool, drawing = Pool(make, a.batch, a.light, a.pool), 0.0
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
            inp, t = pool.take()
        with torch.autocast(dev, dtype=torch.bfloat16, enabled=dev == "cuda"):
            o = net(inp.contiguous(memory_format=torch.channels_last))
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
    if crew.rank > 0:
        return
    evaluate(shadow, a.eval, a.medium, True, a.light)
    torch.save(dict(net=net.state_dict(), shadow=shadow.state_dict(), it=it), f"{a.out}/{tag}.ckpt")
    shadow.eval()
    dummy = torch.zeros(1, inputs, 64, 104, device=dev)
    torch.onnx.export(shadow, dummy, f"{a.out}/{tag}.onnx", opset_version=11, dynamo=False, input_names=["x"], output_names=["y"])
    json.dump(dict(medium=a.medium, seed=a.seed, steps=a.steps, batch=a.batch, reuse=a.reuse, pool=a.pool, widths=widths, inputs=inputs, deep=a.deep, place=a.place, apart=a.apart, processes=crew.size, reached=it, torch=torch.__version__), open(f"{a.out}/{tag}.json", "w"))
    with torch.no_grad():
        torch.manual_seed(12345)
        t = make(2)
        inp = norm(t["image"], t["view"], t["light"] if a.light else None)
        out = shadow(inp)
    np.savez_compressed(f"{a.out}/{tag}-io.npz", image=t["image"].cpu().numpy(), view=t["view"].cpu().numpy(), x=inp.cpu().numpy(), y=out.cpu().numpy(), centre=t["centre"].cpu().numpy())


if __name__ == "__main__":
    main()
