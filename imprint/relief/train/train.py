"""Trains one of the nets and exports it.

    train.py MEDIUM --steps N [--seed S] [--batch B] [--reuse R] [--pool P] [--resume CKPT] --out DIR

MEDIUM is foam or ink.  Drawing imprints takes longer than learning from them, so each batch drawn goes into
a pool of the last P, from which R steps are made, half of every step's imprints seen in a mirror.  Several
GPUs share a run when each has a process of its own with RANK, WORLD_SIZE, MASTER_ADDR and MASTER_PORT in
its environment: every process draws its own imprints, and all make the same step, by the mean of their
gradients.  Needs PyTorch 2 and a GPU; the tool itself needs neither.
"""
import argparse
import json
import math
import os
import time

import numpy as np
import torch
import torch.distributed as dist
import torch.nn as nn

import horizons
import recipe
import shapes
from evaluate import evaluate
from export import export, fused
from grid import device
from loss import loss_of
from model import WIDTHS, UNet
from reading import flip, mirrored, normalise

PEAK, FLOOR = 2e-3, 5e-6  # the largest learning rate, and what is added to it throughout
WARM_UP = 400  # steps
ALONE, PAIRS = 0.4, 0.85  # of imprints with several photos: seen singly below; from here on two photos only
TRUTHS = ("centre", "depth", "flat", "oblong", "count")


class Pool:
    """The last batches drawn: what the net sees of them, and the truth."""

    def __init__(self, make, batch, photos, light, batches):
        self.make, self.photos, self.light, self.drawn = make, photos, light, 0
        self.batch = batch // photos  # imprints in a batch
        self.size = batches * self.batch

    def draw(self):
        """Draws one batch and puts it in the place of the oldest."""
        t = self.make(self.batch, self.photos) if self.photos > 1 else self.make(self.batch)
        inputs = normalise(t["image"], t["view"], t["light"] if self.light else None).half()
        if self.drawn == 0:
            shape = (self.size, self.photos)
            self.inputs = torch.empty(*shape, *inputs.shape[1:], device=device, dtype=torch.half)
            self.truth = {
                k: torch.empty(*shape, *t[k].shape[1:], device=device, dtype=t[k].dtype) for k in TRUTHS
            }
        at = self.drawn * self.batch % self.size
        self.inputs[at : at + self.batch] = inputs.view(self.batch, self.photos, *inputs.shape[1:])
        for k in TRUTHS:
            self.truth[k][at : at + self.batch] = t[k].view(self.batch, self.photos, *t[k].shape[1:])
        self.drawn += 1

    def take(self):
        """One step's imprints, the first half of them mirrored, and which of them the net shall see photo
        by photo.  Of the others some have two photos only: the first once more in the third's place."""
        chosen = torch.randint(0, min(self.drawn * self.batch, self.size), (self.batch,), device=device)
        inputs, truth = self.inputs[chosen].float(), {k: v[chosen] for k, v in self.truth.items()}
        fate = torch.rand(self.batch, device=device)
        if self.photos == 3:
            two = (fate > PAIRS).view(-1, 1)
            for v in (inputs, *truth.values()):
                v[:, 2] = torch.where(two.view(-1, *[1] * (v.dim() - 2)), v[:, 0], v[:, 2])
        half = self.batch // 2 * self.photos
        inputs, truth = inputs.flatten(0, 1), {k: v.flatten(0, 1) for k, v in truth.items()}
        turned = mirrored({k: v[:half] for k, v in truth.items()})
        inputs = torch.cat([flip(inputs[:half]), inputs[half:]])
        return inputs, {k: torch.cat([turned[k], truth[k][half:]]) for k in TRUTHS}, fate < ALONE


class Crew:
    """The processes that share a run; one process alone needs no other."""

    def __init__(self):
        self.rank, self.size = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
        if self.size > 1:
            dist.init_process_group("nccl" if device == "cuda" else "gloo")

    def mean_gradients(self, net):
        """Every gradient becomes its mean over all processes."""
        if self.size == 1:
            return
        gradients = [p.grad for p in net.parameters()]
        flat = torch.cat([v.flatten() for v in gradients])
        dist.all_reduce(flat)
        at = 0
        for v in gradients:
            v.copy_(flat[at : at + v.numel()].view_as(v) / self.size)
            at += v.numel()

    def any(self, yes):
        """Whether any process says yes."""
        if self.size == 1:
            return yes
        v = torch.tensor(float(yes), device=device)
        dist.all_reduce(v)
        return v.item() > 0


def rate_factor(step, steps):
    """Share of PEAK at a step: a warm-up, then half a cosine down to nothing."""
    return min(1, step / WARM_UP) * (0.5 + 0.5 * math.cos(math.pi * step / steps)) + FLOOR / PEAK


@torch.no_grad()
def follow(average, net, step):
    """Moves the averaged net toward the trained one."""
    keep = min(0.9995, 1 - 1 / (1 + step / 4))
    for a, p in zip(average.state_dict().values(), net.state_dict().values()):
        if a.dtype.is_floating_point:
            a.lerp_(p, 1 - keep)
        else:
            a.copy_(p)


def parse_args():
    parser = argparse.ArgumentParser()
    parser.add_argument("medium", choices=("foam", "ink"))
    parser.add_argument("--steps", type=int, required=True)
    parser.add_argument("--stop-step", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=512)
    parser.add_argument("--reuse", type=int, default=1, help="steps made for each batch drawn")
    parser.add_argument("--pool", type=int, default=1, help="batches kept to choose a step's imprints from")
    parser.add_argument(
        "--widths", default="", help="four channel counts with commas, instead of the medium's own"
    )
    parser.add_argument("--deep", type=int, default=0, help="residual blocks at the coarsest level")
    parser.add_argument("--fine", type=int, default=0, help="residual blocks at a quarter of the resolution")
    parser.add_argument(
        "--photos", type=int, default=1, help="photos of each imprint, read together, too (foam)"
    )
    parser.add_argument(
        "--place", type=float, default=0.5, help="weight of the centres' distance from the truth"
    )
    parser.add_argument(
        "--apart", type=float, default=0.0, help="weight of the spacing's distance from the truth"
    )
    parser.add_argument("--light", action="store_true", help="give the net the frame's light too")
    parser.add_argument(
        "--seconds", type=float, default=1e9, help="stop early after so long; the checkpoint goes on"
    )
    parser.add_argument("--resume", default="", help="go on with a run that was stopped")
    parser.add_argument("--eval", default="", help="windows of photos with known truth, to watch the run by")
    parser.add_argument(
        "--eval-together", default="", help="photos that follow one another by threes are of one imprint"
    )
    parser.add_argument("--tag", default="")
    parser.add_argument("--out", required=True)
    args = parser.parse_args()
    args.widths = tuple(int(w) for w in args.widths.split(",")) if args.widths else WIDTHS[args.medium]
    args.inputs, args.tag, args.stop_step = (
        7 if args.light else 6,
        args.tag or args.medium,
        args.stop_step or args.steps,
    )
    return args


class Training:
    """One run: the net, its average, which is what counts in the end, the optimizer, and where the run
    stands."""

    def __init__(self, args):
        self.args, self.crew, self.step = args, Crew(), 0
        torch.manual_seed(args.seed)
        shape = (args.widths, args.inputs, args.deep, args.fine, args.photos > 1)
        self.net = UNet(*shape).to(device).to(memory_format=torch.channels_last)
        self.average = UNet(*shape).to(device)
        self.average.load_state_dict(self.net.state_dict())
        torch.manual_seed(args.seed + 1000 + 7919 * self.crew.rank)
        self.optimizer = torch.optim.AdamW(self.net.parameters(), PEAK, weight_decay=1e-4)
        if args.resume:
            self.load(args.resume)
        last = self.step - 1
        for group in self.optimizer.param_groups:
            group["initial_lr"] = PEAK
        self.scheduler = torch.optim.lr_scheduler.LambdaLR(
            self.optimizer, lambda step: rate_factor(step, args.steps), last_epoch=last
        )
        make = recipe.foam if args.medium == "foam" else recipe.ink
        self.make, self.pool = make, Pool(make, args.batch, args.photos, args.light, args.pool)

    def load(self, path):
        checkpoint = torch.load(path, map_location=device)
        self.net.load_state_dict(checkpoint["net"])
        self.average.load_state_dict(checkpoint["average"])
        self.step = checkpoint["step"]
        torch.manual_seed(self.args.seed + self.step + 7919 * self.crew.rank)

    def save(self):
        state = dict(net=self.net.state_dict(), average=self.average.state_dict(), step=self.step)
        torch.save(state, f"{self.args.out}/{self.args.tag}.ckpt")

    def train_step(self):
        """One step of the optimizer; returns what loss_of() does, and the truth."""
        args = self.args
        with torch.no_grad():
            if self.step % args.reuse == 0:
                self.pool.draw()
            inputs, truth, alone = self.pool.take()
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            maps = self.net(inputs.contiguous(memory_format=torch.channels_last), args.photos, alone)
        result = loss_of(maps.float(), truth, args.medium, args.place, args.apart)
        self.optimizer.zero_grad(set_to_none=True)
        result[0].backward()
        self.crew.mean_gradients(self.net)
        nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self.optimizer.step()
        self.scheduler.step()
        self.step += 1
        follow(self.average, self.net, self.step)
        return result, truth

    def run(self):
        args, start = self.args, time.time()
        while self.step < args.stop_step:
            if self.step % 25 == 0 and self.crew.any(time.time() - start > args.seconds):
                break
            result, truth = self.train_step()
            if self.step % 800 == 0 and self.crew.rank == 0:
                self.report(result, truth, time.time() - start)
                self.evaluate(False)

    def report(self, result, truth, seconds):
        loss, r, spacing_error, depth_error = result
        rms = lambda v: v.detach().pow(2).mean().sqrt().item()
        right = (r["count"].argmax(1) == truth["count"]).float().mean()
        print(
            f"{self.step} {int(seconds)} s loss {loss.item():.3f} rms of spacing {rms(spacing_error):.2f}"
            f" of depth {rms(depth_error):.2f} count {right:.3f}",
            flush=True,
        )

    def evaluate(self, verbose):
        args = self.args
        evaluate(self.average, args.eval, args.medium, verbose, args.light)
        evaluate(self.average, args.eval_together, args.medium, verbose, args.light, args.photos)

    def finish(self):
        """The checkpoint, the exported net, how it was made, and two imprints with what the net says of
        them."""
        args = self.args
        self.evaluate(True)
        self.save()
        self.average.eval()
        export(fused(self.average), args.out, args.tag, args.inputs, args.photos)
        keys = "medium seed steps batch reuse pool widths inputs deep fine photos place apart".split()
        made = {k: getattr(args, k) for k in keys}
        made.update(processes=self.crew.size, reached=self.step, torch=torch.__version__)
        with open(f"{args.out}/{args.tag}.json", "w") as f:
            json.dump(made, f)
        with torch.no_grad():
            torch.manual_seed(12345)
            t = self.make(2, args.photos) if args.photos > 1 else self.make(2)
            x = normalise(t["image"], t["view"], t["light"] if args.light else None)
            y, together = self.average(x), self.average(x[: args.photos], args.photos)
        arrays = dict(image=t["image"], view=t["view"], x=x, y=y, together=together, centre=t["centre"])
        np.savez_compressed(
            f"{args.out}/{args.tag}-io.npz", **{k: v.cpu().numpy() for k, v in arrays.items()}
        )


def main():
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    training = Training(parse_args())
    print("horizons:", horizons.check_kernels(-shapes.dents(8, torch.ones(8, 2, device=device), "foam")[0]))
    print("parameters", sum(p.numel() for p in training.net.parameters()), flush=True)
    training.run()
    if training.crew.rank == 0:
        training.finish()


if __name__ == "__main__":
    main()
