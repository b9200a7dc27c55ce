"""GPUs that share a training run: each has a process of its own with RANK, WORLD_SIZE, MASTER_ADDR and
MASTER_PORT in its environment.  Every process draws its own imprints, and all make the same step, by the
mean of their gradients."""
import os

import torch
import torch.distributed as dist

from grid import device


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
