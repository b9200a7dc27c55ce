"""What goes into a net and what its maps say: the contract of the Go package one folder up (input.go,
read.go), which normalises and reads in exactly this way.  Shapes are recipe.py's and model.py's; N counts
pictures."""
import torch

from grid import OX, OY, device

X, Y = OX.flatten(), OY.flatten()
DARKEST = 0.0015  # linear light below which the logarithm is cut
CLEAR = ((OX.abs() < 92) & (OY.abs() < 56)).flatten()  # where the frame's own shadow hardly ever falls
_terms = [torch.ones_like(OX), OX / 100, OY / 70, (OX / 100) ** 2, (OY / 70) ** 2, OX * OY / 7000]
_quadratic = torch.stack(_terms, -1).reshape(-1, 6)
WHOLE_BASIS, _ = torch.linalg.qr(_quadratic)
_, _r = torch.linalg.qr(_quadratic[CLEAR])
CLEAR_BASIS = _quadratic @ torch.linalg.inv(_r)  # orthonormal over the clear part, and going on beyond it


def normalise(image, view, light=None):
    """Linear light (N, 64, 104), view (N, 2, 64, 104) and ln of the light on the frame -> input (N, 6 or 7,
    64, 104): ln of the light, quadratic background taken off, robustly scaled; its contrast; position;
    view.  On foam, where light is given, the background is that of the window's clear part, since the
    frame's shadow darkens the rest, and ln of the pad's brightness over the frame's comes last, its median
    taken off."""
    log_light = torch.log(image.clamp(min=DARKEST)).flatten(1)
    over = []
    if light is None:
        scaled = log_light - (log_light @ WHOLE_BASIS) @ WHOLE_BASIS.T
    else:
        over = log_light - light.flatten(1)
        over = ((over - over.median(1, keepdim=True).values) / 0.15).clamp(-6, 6)
        over = [over.view(-1, 1, *OX.shape)]
        scaled = log_light - (log_light[:, CLEAR] @ CLEAR_BASIS[CLEAR]) @ CLEAR_BASIS.T
    scale = scaled.abs().median(1, keepdim=True).values * 1.48 + 0.006
    scaled = (scaled / scale).clamp(-6, 6).view(-1, 1, *OX.shape)
    contrast = torch.log(scale).view(-1, 1, 1, 1).expand(-1, 1, *OX.shape) / 2 + 1
    position = torch.stack([OX / 100, OY / 70])[None].expand(scaled.shape[0], -1, -1, -1)
    return torch.cat([scaled, contrast, position, view.clamp(-1.5, 1.5)] + over, 1)


def read(maps):
    """The net's maps as numbers: a soft-argmax within some 10 mm of each peak, everything else weighted
    alike.  Lengths in mm; log_var of places in mm^2 (N, 2, 2), of depth in (10 mm)^2 (N, 2), of the spacing
    in mm^2 (N,)."""
    maps = maps.float()
    score = maps[:, :2].flatten(2).softmax(-1)
    top = score.argmax(-1)
    near = torch.exp(-0.5 * ((X - X[top][..., None]) ** 2 + (Y - Y[top][..., None]) ** 2) / 10**2)
    weight = score * near
    weight = weight / weight.sum(-1, keepdim=True)
    at = lambda channel: (weight * maps[:, channel : channel + 2].flatten(2)).sum(-1)
    return dict(
        centre=torch.stack([(weight * X).sum(-1), (weight * Y).sum(-1)], -1),
        log_var=torch.stack([at(2), at(4)], -1),
        depth=at(6) * 10,
        log_var_depth=at(8),
        flat=at(10) * 10,
        oblong=torch.stack([at(12), at(14)], -1),
        log_var_oblong=at(16),
        log_var_spacing=(weight * maps[:, 18:19].flatten(2)).sum(-1).mean(1),
        count=maps[:, 19:23].flatten(2).mean(-1),
        peak=score.amax(-1),
    )


def flip(inputs):
    """The same window seen in a mirror: x turns round, left and right change places."""
    mirror = inputs.flip(-1).clone()
    mirror[:, 2], mirror[:, 4] = -mirror[:, 2], -mirror[:, 4]
    return mirror


def mirrored(truth):
    """What is true of an imprint seen in a mirror: flip()'s other half."""
    turn = torch.tensor([-1.0, 1.0], device=device)
    swap = lambda v: v.flip(1)
    return dict(
        centre=swap(truth["centre"]) * turn,
        depth=swap(truth["depth"]),
        flat=swap(truth["flat"]),
        oblong=swap(truth["oblong"]) * -turn,
        count=truth["count"],
    )
