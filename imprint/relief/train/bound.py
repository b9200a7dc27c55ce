"""How well photos of plain pads that bodies sat on can be read at all: the standard deviation of the
distance that is left to whoever knows every law of the recipe, but nothing of the scene before seeing it.

    bound.py --scenes N [--photos P] [--seed S]  >  FILE.jsonl
    bound.py --table FILE.jsonl...

Each number that the recipe draws is a standard normal one in disguise (a uniform one is its distribution
function's value), so a scene is a point g of a space with the prior N(0, I).  What is switched on or off
stays as it is.  With J the change of ln of light by g and a that of the distance, by differences at the
scene drawn, and noise of variance s^2 in every cell, what is left is

    a^T (I + J^T J / s^2)^-1 a

(van Trees' bound, linearised at the truth).  Fields finer than 4 mm are the noise.  The camera's place is
known and the phone adds nothing but noise, so a reader has it harder.  What the distance was like before
seeing anything comes out as |a|, about 20 mm, as bodies.seat() draws it: a check that J and a are whole.
One scene takes some 2 s of a GPU, a minute or more of a processor.
"""
import argparse
import json
import math

import numpy as np
import torch

import bodies
import light
import paint
import phone
import processing
import recipe
import shapes
from grid import GX, GY, OX, OY, device, relief_x, relief_y

STEP = 0.05  # of g, for differences
FINE = 700  # numbers in a field beyond which it is noise
BLOCK = 5  # cells, over whose square the noise is averaged: what matters is broader
BATCH = 64
REDRAWN = 24  # pictures that the noise is estimated from
PHONE = 0.004  # of ln of light in a cell, that a phone's sensor and eight bits add
FRAME = 0.02  # of ln of light on a white patch of the frame, which bends and shines a little
PATCHES = [[1, 1, 1, 1, 82, 82, 82, 82, 28, 56, 28, 56], [10, 42, 77, 109, 10, 42, 77, 109, 1, 1, 118, 118]]
RANDN = torch.randn
MODULES = (bodies, light, paint, phone, processing, recipe, shapes)


class Latent:
    """Stands in for the random numbers of torch: hands out the columns of g, one row a scene."""

    def __init__(self, seed):
        self.generator = torch.Generator().manual_seed(seed)
        self.g, self.fields, self.frozen = torch.empty(1, 0), [], set()  # fields: where each begins, its size
        self.rows, self.at, self.fixed = 1, 0, False

    def take(self, shape, fixed=False):
        """The next numbers, (shape); a new scene's are drawn."""
        per_scene = int(np.prod(shape)) // self.rows
        start, self.at = self.at, self.at + per_scene
        if self.at > self.g.shape[1]:
            more = RANDN(1, self.at - self.g.shape[1], generator=self.generator)
            self.g = torch.cat([self.g, more.expand(self.g.shape[0], -1)], 1)
        if start not in self.frozen and (start, per_scene) not in self.fields:
            self.fields.append((start, per_scene))
            if fixed or self.fixed:
                self.frozen.add(start)
        return self.g[:, start : self.at].reshape(shape).to(device)

    def normal(self, *shape, device=None):
        return self.take(shape)

    def uniform(self, *shape, device=None):
        return torch.special.ndtr(self.take(shape))

    def chance(self, rows, p):
        """A switch stays as it is drawn."""
        self.fixed = True
        on = (self.uniform(rows, 1, 1) < p).float()
        self.fixed = False
        return on

    def scene(self, make, g):
        """What make(rows) gives for the rows of g."""
        self.g, self.rows, self.at = g, g.shape[0], 0
        kept = torch.rand, torch.randn, [m.__dict__.get("chance") for m in MODULES]
        torch.rand, torch.randn = self.uniform, self.normal
        for m in MODULES:
            m.chance = self.chance
        try:
            with torch.no_grad():
                return make(self.rows)
        finally:
            torch.rand, torch.randn = kept[:2]
            for m, chance in zip(MODULES, kept[2]):
                m.chance = chance


class Photos:
    """Photos of one body's imprint: what cameras see of it, and where its two lows are."""

    def __init__(self, photos):
        self.photos, self.cells = photos, None

    def reliefs(self, rows):
        """As shapes.reliefs(), a body each time."""
        seated, bx, by = bodies.imprints(rows)
        self.surface, self.middle = seated, bx
        found = shapes.deepest(seated, bx, torch.zeros_like(bx))
        pressed = shapes.clutter(rows, bodies.cloth(rows, seated), bx, by, uneven=False)
        return (pressed, torch.full((rows,), 2, device=device), *found)

    def __call__(self, rows):
        """What a phone that adds nothing sees, (rows, photos * (cells + patches)): ln of light in the window,
        its mean taken off, and on twelve white patches of the frame, that mean taken off, too."""
        recipe.reliefs = self.reliefs
        pad = recipe.draw_pad(rows, self.photos)
        height, foot = phone.camera(rows, self.photos)
        glow, light = recipe.illuminate(pad, foot, height, self.photos)
        x, y = phone.seen_at(OX, OY, torch.full_like(height, phone.LEVEL), foot, height)
        image = torch.log(phone.to_plane(glow, pad["relief"], foot, height, x, y).clamp(min=1e-6))
        recipe.reliefs = shapes.reliefs
        exposure = image.mean((1, 2), keepdim=True)
        frame = torch.log(light[:, PATCHES[0], PATCHES[1]].clamp(min=1e-6)) - exposure[:, 0]
        whole = torch.cat([(image - exposure).flatten(1), frame], 1)
        return whole.reshape(rows, -1).cpu().double()

    def lows(self):
        """Both lows (rows, 2, 2), the cells that hold them those of the first call."""
        kernel = torch.tensor([[1.0, 2, 1], [2, 5, 2], [1, 2, 1]], device=device)
        padded = torch.nn.functional.pad(self.surface[:, None], (1, 1, 1, 1), mode="replicate")
        smooth = torch.nn.functional.conv2d(padded, (kernel / kernel.sum()).view(1, 1, 3, 3))[:, 0]
        if self.cells is None:
            self.cells = [self.cell(smooth, side) for side in (-1, 1)]
        centres = []
        rows = torch.zeros(smooth.shape[0], dtype=torch.long, device=device)
        for j, i in self.cells:
            dx, dy = shapes.summit(smooth, rows + i, rows + j)
            centres.append(torch.stack([relief_x[i] + 2 * dx, relief_y[j] + 2 * dy], -1))
        return torch.stack(centres, 1)

    def cell(self, smooth, side):
        inside = ((shapes.Xg - self.middle[:1]) * side > 8) & (shapes.Xg.abs() < 104) & (shapes.Yg.abs() < 66)
        at = int(torch.where(inside, smooth[:1], torch.full_like(smooth[:1], -1e3)).argmax())
        return min(max(at // GX, 2), GY - 3), min(max(at % GX, 2), GX - 3)


def spacing(centre):
    """mm between both lows, (rows,)."""
    return (centre[:, 1] - centre[:, 0]).norm(dim=-1).cpu().double()


def noise_of(latent, make, g):
    """The standard deviation of ln of light in a cell, of what is finer than matters."""
    rows = g.repeat(REDRAWN, 1)
    for start, size in latent.fields:
        if size > FINE:
            rows[:, start : start + size] = RANDN(REDRAWN, size, generator=latent.generator)
    seen = latent.scene(make, rows).reshape(REDRAWN * make.photos, -1)[:, : OX.numel()]
    seen = seen.reshape(REDRAWN, make.photos, *OX.shape)[..., :60, :100]
    means = (seen - seen.mean(0)).reshape(REDRAWN, make.photos, 12, BLOCK, 20, BLOCK).mean((3, 5))
    return float((means.var(0).median() * BLOCK**2 + PHONE**2).sqrt())


def left_over(seed, photos):
    """The bound of one scene, mm, its noise, and its distance; None where the body left no two lows of its
    own."""
    latent, make = Latent(seed), Photos(photos)
    seen = latent.scene(make, torch.empty(1, 0))
    g, lows = latent.g.clone(), make.lows()
    if not bool(shapes.within(lows, make.middle)):
        return None
    noise = noise_of(latent, make, g)
    columns = [
        at
        for start, size in latent.fields
        if size <= FINE and start not in latent.frozen
        for at in range(start, start + size)
    ]
    by, distance = [], []
    for k in range(0, len(columns), BATCH):
        some = columns[k : k + BATCH]
        rows = g.repeat(len(some), 1)
        rows[torch.arange(len(some)), some] += STEP
        by.append((latent.scene(make, rows) - seen) / STEP)
        distance.append((spacing(make.lows()) - spacing(lows)) / STEP)
    weight = torch.full((seen.numel() // photos,), 1 / noise, dtype=torch.double)
    weight[OX.numel() :] = 1 / FRAME
    by, along = torch.cat(by) * weight.repeat(photos), torch.cat(distance)
    left = along @ torch.linalg.solve(torch.eye(len(columns)) + by @ by.T, along)
    return dict(
        seed=seed,
        bound=float(left.sqrt()),
        before=float(along.norm()),
        noise=noise,
        spacing=float(spacing(lows)),
        numbers=len(columns),
    )


def table(files):
    """A line on all scenes of the files: quantiles of the bound, mm, and how many of the surest scenes have
    an rms of so much at the most."""
    scenes = {}
    for file in files:
        with open(file) as lines:
            for line in map(json.loads, lines):
                scenes[line["seed"]] = line["bound"]
    sure = sorted(scenes.values())
    n = len(sure)
    print(f"{n} scenes", *(f"{q:.0%} {sure[int(q * (n - 1))]:.2f}" for q in (0.1, 0.25, 0.5, 0.75, 0.9)))
    squares = 0.0
    rms = [math.sqrt((squares := squares + v * v) / (k + 1)) for k, v in enumerate(sure)]
    for most in (0.9, 1.5):
        below, within = sum(v <= most for v in sure), sum(v <= most for v in rms)
        print(f"{most} mm: {below / n:.0%} of the scenes; the surest {within / n:.0%} have that rms")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--scenes", type=int, default=0)
    parser.add_argument("--photos", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--table", nargs="*", default=[])
    args = parser.parse_args()
    for seed in range(args.seed, args.seed + args.scenes):
        line = left_over(seed, args.photos)
        if line:
            print(json.dumps(line), flush=True)
    if args.table:
        table(args.table)


if __name__ == "__main__":
    main()
