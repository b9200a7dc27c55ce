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
from export import export, fused, start_from
from grid import device
from loss import loss_of
from model import WIDTHS, UNet
from pool import Pool
from reading import normalise

STARTED = time.time()
FLOOR = 0.0025  # of the largest learning rate: it never falls lower


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


def rate_factor(step, done, warm_up):
    """Share of the largest learning rate: a warm-up by steps, then half a cosine down to a floor as done
    goes to 1."""
    return max(FLOOR, min(1, step / warm_up) * (0.5 + 0.5 * math.cos(math.pi * min(1, done))))


@torch.no_grad()
def follow(average, net, step, most):
    """Moves the averaged net toward the trained one; at last it is the mean over some 1 / (1 - most)
    steps."""
    keep = min(most, 1 - 1 / (1 + step / 4))
    pairs = list(zip(average.state_dict().values(), net.state_dict().values()))
    floats = [(a, p) for a, p in pairs if a.dtype.is_floating_point]
    torch._foreach_mul_([a for a, _ in floats], keep)
    torch._foreach_add_([a for a, _ in floats], [p for _, p in floats], alpha=1 - keep)
    for a, p in pairs:
        if not a.dtype.is_floating_point:
            a.copy_(p)


def parse_args():
    parser = argparse.ArgumentParser()
    parser.add_argument("medium", choices=("foam", "ink"))
    parser.add_argument("--steps", type=int, default=10**9)
    parser.add_argument(
        "--minutes", type=float, default=0, help="length of the schedule by the clock, instead"
    )
    parser.add_argument("--stop-step", type=int, default=0)
    parser.add_argument("--start", default="", help="an exported net of this shape to begin with")
    parser.add_argument("--peak", type=float, default=2e-3, help="the largest learning rate")
    parser.add_argument(
        "--average", type=float, default=0.9995, help="share that the average keeps at each step"
    )
    parser.add_argument("--warm-up", type=int, default=400, help="steps")
    parser.add_argument("--compile", action="store_true", help="compile the net, where that works")
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
        "--seconds", type=float, default=1e9, help="stop so long after the start, to be resumed"
    )
    parser.add_argument("--resume", default="", help="go on with a run that was stopped")
    parser.add_argument("--eval", default="", help="windows with known truth, to watch by: FILE,...")
    parser.add_argument(
        "--eval-together", default="", help="photos that follow one another by threes are of one imprint"
    )
    parser.add_argument("--tag", default="")
    parser.add_argument("--out", required=True)
    args = parser.parse_args()
    args.widths = tuple(int(w) for w in args.widths.split(",")) if args.widths else WIDTHS[args.medium]
    args.inputs, args.tag = 7 if args.light else 6, args.tag or args.medium
    args.stop_step = args.stop_step or args.steps
    return args


class Training:
    """One run: the net, its average, which is what counts in the end, the optimizer, and where the run
    stands."""

    def __init__(self, args):
        self.args, self.crew, self.step, self.seconds = args, Crew(), 0, 0.0
        torch.manual_seed(args.seed)
        shape = (args.widths, args.inputs, args.deep, args.fine, args.photos > 1)
        self.net = UNet(*shape).to(device).to(memory_format=torch.channels_last)
        self.average = UNet(*shape).to(device)
        torch.manual_seed(args.seed + 1000 + 7919 * self.crew.rank)
        make = recipe.foam if args.medium == "foam" else recipe.ink
        self.make, self.pool = make, Pool(make, args.batch, args.photos, args.light, args.pool)
        if args.start:
            start_from(self.net, args.start, self.example(args.batch))
        self.average.load_state_dict(self.net.state_dict())
        self.optimizer = torch.optim.AdamW(self.net.parameters(), args.peak, weight_decay=1e-4)
        if args.resume:
            self.load(args.resume)
        for group in self.optimizer.param_groups:
            group["initial_lr"] = args.peak
        self.scheduler = torch.optim.lr_scheduler.LambdaLR(self.optimizer, lambda _: self.rate())
        self.forward = self.net
        if args.compile:
            self.compile()

    def example(self, pictures):
        """Inputs of so many pictures."""
        with torch.no_grad():
            t = self.make(
                max(1, pictures // self.args.photos), *([self.args.photos] * (self.args.photos > 1))
            )
            return normalise(t["image"], t["view"], t["light"] if self.args.light else None)

    def compile(self):
        """Compiles the net for training, and leaves it as it is, with a line in the log, where that fails."""
        self.forward = torch.compile(self.net)
        before, kept = self.net.state_dict(), {k: v.clone() for k, v in self.net.state_dict().items()}
        try:
            self.pool.draw()
            self.loss_of_step()[0][0].backward()
        except Exception as error:
            print("not compiled:", repr(error)[:400], flush=True)
            self.forward = self.net
        for k, v in before.items():
            v.copy_(kept[k])
        self.optimizer.zero_grad(set_to_none=True)
        self.pool.drawn = 0

    def rate(self):
        """The share of the largest learning rate for the next step."""
        args = self.args
        done = self.seconds / 60 / args.minutes if args.minutes else self.step / args.steps
        return rate_factor(self.step, done, args.warm_up)

    def load(self, path):
        checkpoint = torch.load(path, map_location=device)
        self.net.load_state_dict(checkpoint["net"])
        self.average.load_state_dict(checkpoint["average"])
        self.optimizer.load_state_dict(checkpoint["optimizer"])
        self.step, self.seconds = checkpoint["step"], checkpoint["seconds"]
        torch.manual_seed(self.args.seed + self.step + 7919 * self.crew.rank)

    def save(self):
        """The checkpoint, and the net as it stands, exported."""
        args = self.args
        state = dict(step=self.step, seconds=self.seconds, optimizer=self.optimizer.state_dict())
        state.update(net=self.net.state_dict(), average=self.average.state_dict())
        torch.save(state, f"{args.out}/{args.tag}.ckpt")
        self.average.eval()
        export(fused(self.average), args.out, args.tag, args.inputs, args.photos)

    def loss_of_step(self):
        """What loss_of() says of imprints taken from the pool, and their truth."""
        args = self.args
        with torch.no_grad():
            inputs, truth, alone = self.pool.take()
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            maps = self.forward(inputs.contiguous(memory_format=torch.channels_last), args.photos, alone)
        return loss_of(maps.float(), truth, args.medium, args.place, args.apart), truth

    def train_step(self):
        """One step of the optimizer; returns what loss_of_step() does."""
        if self.step % self.args.reuse == 0 or self.pool.drawn == 0:
            with torch.no_grad():
                self.pool.draw()
        result, truth = self.loss_of_step()
        self.optimizer.zero_grad(set_to_none=True)
        result[0].backward()
        self.crew.mean_gradients(self.net)
        nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self.optimizer.step()
        self.scheduler.step()
        self.step += 1
        follow(self.average, self.net, self.step, self.args.average)
        return result, truth

    def run(self):
        args, start, before = self.args, time.time(), self.seconds
        while self.step < args.stop_step:
            result, truth = self.train_step()
            if self.step % 25 == 0:
                if device == "cuda":
                    torch.cuda.synchronize()
                self.seconds = before + time.time() - start
                over = args.minutes and self.seconds > 60 * args.minutes
                if self.crew.any(over or time.time() - STARTED > args.seconds):
                    break
            if self.step % 400 == 0 and self.crew.rank == 0:
                self.report(result, truth)
                self.evaluate(False)
                if self.step % 2000 == 0:
                    self.save()

    def report(self, result, truth):
        loss, r, spacing_error, depth_error = result
        rms = lambda v: v.detach().pow(2).mean().sqrt().item()
        right = (r["count"].argmax(1) == truth["count"]).float().mean()
        text = f"{self.step} {int(self.seconds)} s loss {loss.item():.3f} count {right:.3f}"
        print(f"{text} rms of spacing {rms(spacing_error):.2f} of depth {rms(depth_error):.2f}", flush=True)

    def evaluate(self, verbose):
        args = self.args
        for paths, photos in ((args.eval, 1), (args.eval_together, args.photos)):
            for path in paths.split(","):
                evaluate(self.average, path, args.medium, verbose, args.light, photos)

    def finish(self):
        """The checkpoint, the net, how it was made, and two imprints with what the net says of them."""
        args = self.args
        self.evaluate(True)
        self.save()
        keys = "medium seed steps minutes batch reuse pool widths inputs deep fine photos place apart peak"
        made = {k: getattr(args, k) for k in (*keys.split(), "average")}
        made.update(processes=self.crew.size, reached=self.step)
        made.update(seconds=self.seconds, torch=torch.__version__)
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
