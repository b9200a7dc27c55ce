"""How a net reads photos with known truth, as windows.py cut them out; to watch a training run by, never to
train on."""
import os

import numpy as np
import torch

from grid import device
from loss import distance
from reading import flip, normalise, read


def evaluate(net, path, medium, verbose=False, light=False, photos=1):
    """Prints the errors of the distance (mm) of photos read one by one, or so many together, each also in a
    mirror."""
    if not path or not os.path.exists(path):
        return
    Z = np.load(path)
    load = lambda key: torch.tensor(Z[medium + "_" + key], device=device, dtype=torch.float32)
    image, true_centre, view, true_depth = (load(key) for key in "ILVD")
    net.eval()
    alone = torch.zeros(1, dtype=torch.bool, device=device)
    with torch.no_grad():
        inputs = normalise(image, view if medium == "foam" else view * 0, load("F") if light else None)
        r, mirror = (
            read(torch.cat([net(some[k : k + photos], photos, alone) for k in range(0, len(some), photos)]))
            for some in (inputs, flip(inputs))
        )
    turned = mirror["centre"].flip(1) * torch.tensor([-1.0, 1.0], device=device)
    centre = (r["centre"] + turned) / 2
    error, single = distance(centre) - distance(true_centre), distance(r["centre"]) - distance(true_centre)
    sigma = torch.exp(0.5 * r["log_var_spacing"])
    depth_error = (r["depth"] + mirror["depth"].flip(1)) / 2 - true_depth
    if verbose:
        offset, rounded = centre - true_centre, lambda t: [round(v, 1) for v in t.tolist()]
        for k, name in enumerate(Z[medium + "_N"]):
            print(
                name,
                "err %+.2f s %.2f" % (error[k], sigma[k]),
                "L",
                rounded(offset[k, 0]),
                "R",
                rounded(offset[k, 1]),
                "depth",
                rounded(depth_error[k]),
                "count",
                int(r["count"][k].argmax()),
            )
    error, single, sigma = (v.view(-1, photos).mean(1) for v in (error, single, sigma))
    best = error.abs().sort().values[: int(0.9 * len(error))]
    rms = lambda v: v.pow(2).mean().sqrt().item()
    print(
        f"  {len(error)} of {photos} {medium} photos: rms {rms(error):.2f} (one view {rms(single):.2f})"
        f" the best 90 % {rms(best):.2f} median {error.abs().median().item():.2f}"
        f" bias {error.mean().item():+.2f}"
        f" worst {error.abs().max().item():.2f} | e/s rms {rms(error / sigma):.2f}"
        f" | depth rms {rms(depth_error):.2f} bias {depth_error.mean().item():+.2f}",
        flush=True,
    )
    net.train()
