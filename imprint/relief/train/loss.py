"""How far a net's maps are from the truth: one number to make small."""
import torch
import torch.nn.functional as F

from reading import X, Y, read


STRAY = 30.0  # mm: a reading farther off is of something else, and says nothing of how sure the net may be


def gaussian_nll(squared_error, log_var, cap=14.0):
    """-ln of the normal density, up to a constant; it grows but slowly beyond cap, so that a reading far
    off does not rule a batch, and still widens the variance."""
    value = squared_error / torch.exp(log_var.clamp(-9, 9)) / 2 + log_var / 2
    return torch.where(value > cap, cap + torch.log1p((value - cap).clamp(min=0)), value)


def loss_of(maps, truth, medium="foam", place=0.5, apart=0.0):
    """The mean loss of a batch, with the readings, the errors (mm) of the spacing and of the depths where
    two dents are in the window.  place and apart weigh the centres' and the spacing's distance from the
    truth, beside their likelihoods."""
    centre, count = truth["centre"], truth["count"]
    inside = ((centre[..., 0].abs() < 104) & (centre[..., 1].abs() < 66)).all(1)
    two = ((count == 2) & inside).float()
    target = torch.exp(-0.5 * ((X - centre[..., 0:1]) ** 2 + (Y - centre[..., 1:2]) ** 2) / 3**2)
    target = target / target.sum(-1, keepdim=True).clamp(min=1e-6)
    cross_entropy = -(target * maps[:, :2].flatten(2).float().log_softmax(-1)).sum(-1).mean(1)
    r = read(maps)
    error = r["centre"] - centre
    squared = error.pow(2).sum(-1)
    near, judged = (squared < 15**2).float(), (squared < STRAY**2).float()
    position = (gaussian_nll(error**2, r["log_var"]).sum(-1) * judged).mean(1)
    spacing_error = distance(r["centre"]) - distance(centre)
    spacing = gaussian_nll(spacing_error**2, r["log_var_spacing"]) * judged.prod(1)
    huber = F.smooth_l1_loss(r["centre"], centre, beta=1.0, reduction="none").sum(-1).mul(near).mean(1)
    gap = F.smooth_l1_loss(
        spacing_error, torch.zeros_like(spacing_error), beta=0.5, reduction="none"
    ) * near.prod(1)
    depth = gaussian_nll(((r["depth"] - truth["depth"]) / 10) ** 2, r["log_var_depth"]).mean(1)
    if (
        medium == "ink"
    ):  # ink has no depth, and a target that never varies would only teach a vanishing variance
        depth = depth * 0
    flat = F.smooth_l1_loss(r["flat"] / 10, truth["flat"] / 10, beta=0.2, reduction="none").mean(1)
    oblong = (
        gaussian_nll((r["oblong"] - truth["oblong"]) ** 2, r["log_var_oblong"][..., None]).sum(-1)
    ).mean(1)
    counted = F.cross_entropy(r["count"], count, reduction="none")
    where = cross_entropy + 0.25 * position + 0.35 * spacing + place * huber + apart * gap
    total = ((where + 0.25 * depth + 0.3 * flat + 0.1 * oblong) * two + 0.3 * counted).mean()
    return total, r, spacing_error[two > 0], truth["depth"][two > 0] - r["depth"][two > 0]


def distance(centre):
    """Of the left and the right point of (N, 2, 2), mm."""
    return (centre[:, 1] - centre[:, 0]).norm(dim=-1)
