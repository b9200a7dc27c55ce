"""The net: a U-shaped convolutional net on the grid of the window that answers 23 maps, for one photo or
several of an imprint.

Input (N, 6 or 7, 64, 104) as reading.normalise() makes it; output (N, 23, 64, 104):
  0,1   score of "the left/right centre is here" (softmax over the window)
  2,3   ln variance of x, left/right       4,5   ln variance of y (mm^2)
  6,7   depth / 10 mm                      8,9   ln variance of (depth / 10 mm)
  10,11 flat radius / 10 mm
  12,13 oblong cos part   14,15 oblong sin part   16,17 ln variance of oblong
  18    ln variance of the spacing (mm^2), read at both centres and averaged
  19-22 scores of no dent, one, two, more (averaged over the window)
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

CHANNELS = 23
WIDTHS = {"foam": (32, 64, 96, 120), "ink": (24, 48, 64, 80)}


def conv_block(inputs, outputs):
    """Two 3 x 3 convolutions, each normalised and passed through SiLU."""
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, padding=1),
        nn.BatchNorm2d(outputs),
        nn.SiLU(),
        nn.Conv2d(outputs, outputs, 3, padding=1),
        nn.BatchNorm2d(outputs),
        nn.SiLU(),
    )


class Residual(nn.Module):
    """A block added to what it was given, each channel weighed by what the whole window shows: light is the
    same all over."""

    def __init__(self, width):
        super().__init__()
        self.block = conv_block(width, width)
        self.gate = nn.Sequential(
            nn.Conv2d(width, width // 4, 1), nn.SiLU(), nn.Conv2d(width // 4, width, 1), nn.Sigmoid()
        )

    def forward(self, t):
        r = self.block(t)
        return t + r * self.gate(F.adaptive_avg_pool2d(r, 1))


class Exchange(nn.Module):
    """Tells each photo of an imprint what all of them show on average; alone a photo tells itself."""

    def __init__(self, width):
        super().__init__()
        self.mix = nn.Conv2d(width, width, 1, bias=False)
        nn.init.zeros_(self.mix.weight)

    def forward(self, t, photos, alone):
        return t + self.mix(mean_over_photos(t, photos, alone))


def mean_over_photos(t, photos, alone):
    """The mean over the photos of each imprint, for each of them; itself for those that are alone (a flag
    an imprint)."""
    if photos == 1:
        return t
    if alone is None:  # as exported: one imprint, and nothing but sums and joins of its photos
        return torch.cat([sum(t[k : k + 1] for k in range(photos)) / photos] * photos, 0)
    grouped = t.view(-1, photos, *t.shape[1:])
    return torch.where(alone.view(-1, 1, 1, 1, 1), grouped, grouped.mean(1, keepdim=True)).view(t.shape)


class UNet(nn.Module):
    """Four levels of widths channels, 64 x 104 cells at the finest; deep residual blocks at the coarsest
    level, fine ones at a quarter of the resolution on the way down and up; with exchange the photos of an
    imprint tell each other what they show at eight places."""

    def __init__(self, widths, inputs=6, deep=0, fine=0, exchange=False):
        super().__init__()
        w0, w1, w2, w3 = widths
        self.down = nn.ModuleList([conv_block(*w) for w in ((inputs, w0), (w0, w1), (w1, w2), (w2, w3))])
        self.middle = nn.Sequential(conv_block(w3, w3), *[Residual(w3) for _ in range(deep)])
        self.up = nn.ModuleList([conv_block(w3 + w2, w2), conv_block(w2 + w1, w1), conv_block(w1 + w0, w0)])
        self.fine_down, self.fine_up = (nn.Sequential(*[Residual(w2) for _ in range(fine)]) for _ in (0, 1))
        self.exchange = nn.ModuleList(
            [Exchange(w) for w in (w0, w1, w2, w3, w3, w2, w1, w0)] if exchange else []
        )
        self.head = nn.Conv2d(w0, CHANNELS, 1)

    def tell(self, place, t, photos, alone):
        return self.exchange[place](t, photos, alone) if len(self.exchange) else t

    def forward(self, t, photos=1, alone=None):
        skips = []
        for level, block in enumerate(self.down):
            t = block(t if level == 0 else F.avg_pool2d(t, 2))
            t = self.tell(level, self.fine_down(t) if level == 2 else t, photos, alone)
            skips.append(t)
        t = self.tell(4, self.middle(t), photos, alone)
        for level, block in enumerate(self.up):
            t = F.interpolate(t, scale_factor=2, mode="bilinear")
            t = block(torch.cat([t, skips[2 - level]], 1))
            t = self.tell(5 + level, self.fine_up(t) if level == 0 else t, photos, alone)
        return self.head(t)
