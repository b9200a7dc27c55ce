"""Drawn imprints that no step learns from, to watch a training run by: bells and bodies, each as the camera
saw it and once more after local tone, all else the same."""
import torch

import processing
import shapes
from loss import distance, loss_of
from reading import normalise

SEED, SURE = 4711, 2.5  # mm: pictures that the net was so sure of, plain, are followed by themselves
KINDS = ("bells", "bodies")


def draw(make, pictures, body, toned, light):
    """Inputs and truth of so many pictures: bodies or bells, with local tone or plain; all else drawn is the
    same."""
    shares = processing.TONED_DARK, processing.TONED, processing.LIFTED, shapes.BODY
    processing.TONED_DARK = processing.TONED = float(toned)
    processing.LIFTED, shapes.BODY = 0.0, float(body)
    try:
        with torch.random.fork_rng(), torch.no_grad():
            torch.manual_seed(SEED)
            t = make(pictures)
    finally:
        processing.TONED_DARK, processing.TONED, processing.LIFTED, shapes.BODY = shares
    return normalise(t["image"], t["view"], t["light"] if light else None), t


class Validation:
    """The drawn sets, and which of their pictures the net to begin with was sure of when they were plain."""

    def __init__(self, make, pictures, light, medium):
        self.medium, self.sure = medium, {}
        self.sets = {
            (kind, toned): draw(make, pictures, kind == "bodies", toned, light)
            for kind in KINDS
            for toned in (False, True)
        }

    @torch.no_grad()
    def line(self, net):
        """What the net says of every set: its mean loss, and over the pictures that it was sure of the rms,
        the rms of the best nine of ten, and the median of the spacing's error in mm."""
        net.eval()
        words = []
        for (kind, toned), (inputs, truth) in self.sets.items():
            maps = torch.cat([net(some) for some in inputs.split(128)]).float()
            loss, r = loss_of(maps, truth, self.medium)[:2]
            two = (truth["count"] == 2) & (truth["centre"][..., 0].abs() < 104).all(1)
            if kind not in self.sure:
                self.sure[kind] = two & (torch.exp(0.5 * r["log_var_spacing"]) < SURE)
            error = (distance(r["centre"]) - distance(truth["centre"]))[self.sure[kind]].abs().sort().values
            rms = lambda v: v.pow(2).mean().sqrt().item()
            best = error[: max(1, int(0.9 * len(error)))]
            words.append(
                f"{kind}{' toned' if toned else ''} {loss.item():.3f} {rms(error):.2f} {rms(best):.2f}"
                f" {error.median().item() if len(error) else 0:.2f}"
            )
        net.train()
        counted = ", ".join(f"{int(sure.sum())} {kind}" for kind, sure in self.sure.items())
        return "; ".join(words) + f" (of {counted})"
