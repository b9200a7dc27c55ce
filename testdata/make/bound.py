#!/usr/bin/python3
"""How well the scans of marks.py can be read at all.   bound.py SET... [--scenes N] [--jobs N]

The standard deviation of the distance that is left to whoever knows every law of marks.py, but nothing of a
scene before seeing it.  Each number that the laws draw is a standard normal one in disguise, so a scene is a
point g of a space with the prior N(0, I).  What is switched on or off, and the response's kind, stay as they
are.  With J the change of the ink's density by g and a that of the distance, by differences at the scene
drawn, and R the covariance of grain and cloth, what is left is

    a^T (I + J^T R^-1 J)^-1 a

(van Trees' bound, linearised at the truth).  A reader has it harder.  What the distance was like before
seeing anything comes out as |a|.
"""
import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import cv2
import numpy as np
from scipy.special import ndtr, ndtri

import centre
import marks
from scan import INKED, PRESSED
from sets import SETS
from surface import PAD, grid, smooth

STEP = 0.05  # of g, for differences
CELL = 4.0  # mm: the ink is averaged over such squares
HALF = 106, 70  # mm: the frame's window to either side
COLUMNS, ROWS = int(2 * HALF[0] / CELL), int(2 * HALF[1] / CELL)
GROUND, COARSE = grid(150.5, 120.5, 1.0), grid(150, 120, 10.0)
DOTS = 12  # to the mm, as the grain is drawn
REDRAWN = 6  # sheets that the grain is estimated from
BLOCK = 3  # cells to a side, over whose square that is averaged: what matters is as broad
LEAST = 0.004  # of density: scanner and eight bits


class Latent:
    """Stands in for a numpy generator: the continuous numbers that it hands out are moved by g."""

    def __init__(self, seed, moved=()):
        self.rng, self.moved, self.count = np.random.default_rng(seed), dict(moved), 0

    def take(self):
        """The next number's part of g."""
        self.count += 1
        return self.moved.get(self.count - 1, 0.0)

    def uniform(self, low, high):
        drawn, g = self.rng.uniform(0, 1), self.take()
        return low + (high - low) * (float(ndtr(ndtri(drawn) + g)) if g else drawn)

    def normal(self, mean, deviation):
        drawn = self.rng.normal(0, 1)
        return mean + deviation * (drawn + self.take())

    def __getattr__(self, name):  # what is switched, or a field of grain, stays as it is
        return getattr(self.rng, name)


class Scene:
    """The body and the sheet that a set's scan shows, to be drawn again with some numbers moved."""

    def __init__(self, seed, number):
        self.seeds = [seed, number, PRESSED], [seed, number, INKED]
        rng = np.random.default_rng(self.seeds[0])
        for self.skipped in range(400):  # the draws that had no two tops
            pressure = marks.stack(rng, PAD)
            try:
                left, right = marks.tops(pressure)
                break
            except centre.NoCentre:
                continue
        self.spacing, self.highest = centre.spacing(left, right), max(left.depth, right.depth)
        self.state = self.before(self.skipped)
        self.cells = None
        self.ink, self.distance = self.seen({}, {})

    def before(self, skipped):
        """The generator as it was before the draw that was kept."""
        rng = np.random.default_rng(self.seeds[0])
        for _ in range(skipped):
            marks.stack(rng, COARSE)
        return rng.bit_generator.state

    def seen(self, body, sheet):
        """The ink's density in the cells, without grain, and the distance, with numbers moved."""
        rng = Latent(0, body)
        rng.rng.bit_generator.state = self.state
        pressure = marks.stack(rng, GROUND)
        self.numbers = [rng.count]
        if self.cells is None:
            self.cells = [self.cell(pressure, at) for at in (-1, 1)]
        tops = [centre.refine(smooth(pressure, 1.0, GROUND.step), GROUND, *cell) for cell in self.cells]
        rng = Latent(self.seeds[1], sheet)
        self.paper = marks.paper(rng)
        self.numbers.append(rng.count)
        self.pressure = pressure / self.highest
        return averaged(self.paper.response(self.pressure)), centre.spacing(*tops)

    def cell(self, pressure, side):
        x, y = GROUND.mesh()
        part = centre.middle(smooth(pressure, 1.0, GROUND.step), GROUND)
        allowed = ((x - part) * side > 8) & (np.abs(x) < centre.WINDOW[0]) & (np.abs(y) < centre.WINDOW[1])
        return np.unravel_index(np.where(allowed, pressure, -np.inf).argmax(), pressure.shape)

    def noise(self):
        """The covariance of the cells' density by grain and cloth."""
        at = np.meshgrid(*(((np.arange(-h * DOTS, h * DOTS) + 0.5) / DOTS - g[0]).astype(np.float32)
                           for h, g in zip(HALF, (GROUND.x, GROUND.y))))
        fine = cv2.remap(self.pressure.astype(np.float32), *at, cv2.INTER_LINEAR)
        rng = np.random.default_rng(self.seeds[1])
        still = replace(self.paper, cloth=0.0)
        drawn = []
        for _ in range(REDRAWN):
            ink = marks.density(rng, still, fine, DOTS)
            drawn.append(ink.reshape(ROWS, int(CELL * DOTS), COLUMNS, int(CELL * DOTS)).mean((1, 3)))
        off = np.array(drawn) - np.mean(drawn, 0)
        sums = np.array([cv2.blur(o, (BLOCK, BLOCK)) for o in off])
        variance = (sums**2).sum(0) / (REDRAWN - 1) * BLOCK**2
        variance = cv2.blur(variance, (5, 5)).ravel() + LEAST**2
        slope = averaged(self.paper.response(self.pressure * 1.005)) - averaged(
            self.paper.response(self.pressure * 0.995))
        slope *= self.paper.cloth / 0.01
        cells = np.meshgrid((np.arange(COLUMNS) + 0.5) * CELL, (np.arange(ROWS) + 0.5) * CELL)
        x, y = (v.ravel() for v in cells)
        squares = (x[:, None] - x) ** 2 + (y[:, None] - y) ** 2
        alike = np.exp(-squares / (4 * max(self.paper.cloth_length, CELL / 2) ** 2))
        return np.diag(variance) + alike * slope[:, None] * slope

    def left_over(self):
        """The bound (mm), and what the distance was like before seeing anything."""
        numbers = self.numbers
        rows, along = [], []
        for which in (0, 1):
            for k in range(numbers[which]):
                moved = [{}, {}]
                moved[which][k] = STEP
                try:
                    ink, distance = self.seen(*moved)
                except centre.NoCentre:
                    continue
                rows.append((ink - self.ink) / STEP)
                along.append((distance - self.distance) / STEP)
        by, along = np.array(rows), np.array(along)
        self.seen({}, {})
        known = by @ np.linalg.solve(self.noise(), by.T)
        left = along @ np.linalg.solve(np.eye(len(along)) + known, along)
        return float(np.sqrt(left)), float(np.linalg.norm(along))


def averaged(field):
    """A field on GROUND, averaged over the window's cells."""
    x, y = np.abs(GROUND.x) < HALF[0] - 0.1, np.abs(GROUND.y) < HALF[1] - 0.1
    field = cv2.resize(field[np.ix_(y, x)], (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)
    return field.astype(float).ravel()


def one(scene):
    """A scan's line: its name and what is left."""
    seed, number = scene
    s = Scene(seed, number)
    bound, before = s.left_over()
    return {"name": f"{number:03d}.jpg", "bound": bound, "before": before, "spacing": s.spacing}


def main():
    """Reads the command line, writes a line a scan and a table."""
    parser = argparse.ArgumentParser(description="How well scans by marks.py can be read at all.")
    parser.add_argument("sets", nargs="+", choices=[s for s in SETS if SETS[s].other_marks])
    parser.add_argument("--scenes", type=int, default=10**6, help="only so many of each set")
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    scenes = [
        (SETS[name].seed, k)
        for name in options.sets
        for k in range(min(options.scenes, len(SETS[name].shapes)))
    ]
    bounds = []
    with ProcessPoolExecutor(options.jobs) as pool:
        for line in pool.map(one, scenes):
            print(json.dumps(line), flush=True)
            bounds.append(line["bound"])
    sure = np.sort(bounds)
    rms = np.sqrt(np.cumsum(sure**2) / (1 + np.arange(len(sure))))
    print(f"{len(sure)} scans", *(f"{q:.0%} {np.quantile(sure, q):.2f}" for q in (0.1, 0.25, 0.5, 0.75, 0.9)))
    print(f"the surest 80 %: rms {rms[int(0.8 * len(rms)) - 1]:.2f}; all: {rms[-1]:.2f}")


if __name__ == "__main__":
    main()
