"""Batches kept to learn from: drawing imprints takes longer than learning from them, so each is used
several times."""
import torch

from grid import device
from reading import flip, mirrored, normalise

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
