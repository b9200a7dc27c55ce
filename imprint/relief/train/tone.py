"""Local tone: a phone lifts shadows and pulls highlights down by how bright each place's surroundings are.

Pictures are (B, h, w) levels of 0 to 1 on cells of STEP mm; settings are (B, 1, 1).  The surroundings of a
cell reach beyond the window: the frame's white card with its black marks, and the table or the pad beyond
it, count among them, and darken or brighten the window's rim and the card itself.  So the light that the
card's white shows changes, too."""
import torch
import torch.nn.functional as F

from grid import OX, OY, STEP, WX, WY, chance, gaussian_blur, log_uniform, smooth_noise, uniform

RIM = 33  # cells round the window: the card's 13, and 20 of what lies beyond
CARD_X, CARD_Y, MARK = 132.0, 96.0, 10.0  # half of the card's width and height and of a mark's side, mm
MARKS = [(x, sy * 83) for sy in (-1, 1) for x in (-119, -59.5, 0, 59.5, 119)] + [(-119, 0), (119, 0)]
PATCHES = [(sx * x, sy * 83) for sx in (-1, 1) for sy in (-1, 1) for x in (29.75, 89.25)]
PATCHES += [(sx * 119, sy * 41.5) for sx in (-1, 1) for sy in (-1, 1)]  # of white, as windows.py's

wide = F.pad(torch.stack([OX, OY])[None], [RIM] * 4)[0] * 0
FX = wide[0] + (torch.arange(wide.shape[2], device=OX.device) - (wide.shape[2] - 1) / 2) * STEP
FY = wide[1] + (torch.arange(wide.shape[1], device=OX.device).view(-1, 1) - (wide.shape[1] - 1) / 2) * STEP
PAD = (FX.abs() < WX) & (FY.abs() < WY)
CARD = (FX.abs() < CARD_X) & (FY.abs() < CARD_Y) & ~PAD
MARKED = torch.stack([(FX - x).abs().maximum((FY - y).abs()) < MARK for x, y in MARKS]).any(0)
ON_PATCH = torch.stack([(FX - x).abs().maximum((FY - y).abs()) < 5 for x, y in PATCHES]).float()


def quadratic(x, y):
    """The six terms of the frame's light at x, y in mm, last axis."""
    x, y = x / 100, y / 70
    return torch.stack([torch.ones_like(x), x, y, x * x, y * y, x * y], -1)


_at = quadratic(*torch.tensor(PATCHES, device=OX.device, dtype=torch.float32).T)
CARRY = quadratic(OX, OY).view(-1, 6) @ torch.linalg.pinv(_at)  # from the patches (12) to the window's cells


def framed(B, v, light):
    """The window's picture with what lies round it, RIM cells wide: the card, as bright as light (ln, on
    the window) makes it and never darker than the pad, its marks, and a table, or more of the pad."""
    wide = F.pad(v[:, None], [RIM] * 4, mode="replicate")[:, 0]
    light = F.pad(light[:, None], [RIM] * 4, mode="replicate")[:, 0]
    light = light - light.flatten(1).mean(1).view(B, 1, 1)
    pad = v.flatten(1)[:, ::7].quantile(0.9, dim=1).view(B, 1, 1)
    white = torch.maximum(uniform(B, 0.55, 1.08), pad) * torch.exp(light.clamp(-1.5, 1.5) / 2.2)
    print_ = torch.where(MARKED, uniform(B, 0.2, 0.5), torch.ones_like(FX))  # marks are mostly black
    table = uniform(B, 0.05, 0.9) * (1 + uniform(B, 0, 0.25) * smooth_noise(B, 6, *wide.shape[1:]))
    beyond = torch.where(chance(B, 0.65) > 0, table.clamp(0.02, 1), wide)
    return torch.where(PAD, wide, torch.where(CARD, white.clamp(max=1) * print_, beyond))


def surroundings(B, wide):
    """How bright each cell's surroundings are: some 4 to 50 mm wide, a mean of levels or of a power of them.
    In every third picture their edges are kept (He and others, Guided Image Filtering, 2013, from memory: a
    cell's level is a line in the picture's own, fitted around it); in one of ten the card does not count."""
    alone = F.pad(wide[:, None, RIM:-RIM, RIM:-RIM], [RIM] * 4, mode="replicate")[:, 0]
    power = torch.where(chance(B, 0.3) > 0, log_uniform(B, 0.4, 2.4), uniform(B, 1, 1))
    seen = torch.where(chance(B, 0.1) > 0, alone, wide).clamp(0.004, 1) ** power
    sd = log_uniform(B, 4, 50)
    blurred = lambda t: gaussian_blur(t, sd, 30)
    mean = blurred(seen)
    var = (blurred(seen**2) - mean**2).clamp(min=0)
    slope = var / (var + log_uniform(B, 3e-4, 0.03))
    kept = blurred(slope) * seen + blurred(mean * (1 - slope))
    return torch.where(chance(B, 0.33) > 0, kept, mean).clamp(0.004, 1) ** (1 / power)


def tone_of(B, base):
    """What local tone makes of a level: in six of ten drawn toward a middle one, else by a power of its
    ratio to the mean, by a power alone, or the shadows lifted alone.  In three of ten highlights are pulled
    down."""
    mean = base.flatten(1).mean(1).view(B, 1, 1)
    middle = base + uniform(B, 0.02, 0.5) * (uniform(B, 0.3, 0.7) - base)
    ratio = base * (base / mean) ** -uniform(B, 0, 0.6)
    power = base ** uniform(B, 0.45, 1.05)
    shadows = base + uniform(B, 0, 0.25) * torch.exp(-((base / uniform(B, 0.1, 0.4)) ** 2))
    kind = uniform(B, 0, 1)
    lifted = torch.where(kind < 0.75, ratio, torch.where(kind < 0.87, power, shadows))
    lifted = torch.where(kind < 0.6, middle, lifted)
    pulled = uniform(B, 0, 0.7) * chance(B, 0.3) * (base - uniform(B, 0.5, 0.9)).clamp(min=0)
    return (lifted - pulled).clamp(min=0.01)


def local_tone(B, v, light):
    """The picture's levels after local tone, and by how much it changes light, the ln of the light that the
    card's white shows (B, 64, 104).  What is small against the surroundings keeps its contrast in levels, or
    in their ratio."""
    wide = framed(B, v, light)
    base = surroundings(B, wide)
    toned = tone_of(B, base)
    after = torch.where(chance(B, 0.6) > 0, wide + toned - base, wide * (toned / base).clamp(0.3, 3))
    white = lambda t: torch.einsum("bhw,phw->bp", t, ON_PATCH) / ON_PATCH.sum((1, 2))
    change = torch.log(white(after).clamp(0.05, 1) / white(wide).clamp(0.05, 1)) * 2.2  # a level's power
    return after[:, RIM:-RIM, RIM:-RIM], (change @ CARRY.T).view(B, *OX.shape)
