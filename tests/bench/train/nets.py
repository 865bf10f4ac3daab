"""The two networks: a matcher of two small grey pictures, and a vector of one.

The matcher is coarse to fine in the manner of published detector-free matchers (Sun et al., LoFTR, 2021), small enough
for one core: convolutions to a sixteenth, attention within and between the two pictures there, and correspondences by
dual softmax at an eighth.
"""

import torch
import torch.nn.functional as F
from torch import Tensor, nn

CELL_PX = 8


def _block(into: int, out: int, stride: int) -> nn.Sequential:
    return nn.Sequential(nn.Conv2d(into, out, 3, stride, 1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True))


class _Residual(nn.Module):
    def __init__(self, wide: int) -> None:
        super().__init__()
        self.one = _block(wide, wide, 1)
        self.two = nn.Sequential(nn.Conv2d(wide, wide, 3, 1, 1, bias=False), nn.BatchNorm2d(wide))

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.two(self.one(x)))


class _Attend(nn.Module):
    """Attention of ``x`` to ``to``, then a feed-forward layer."""

    def __init__(self, wide: int, heads: int = 4) -> None:
        super().__init__()
        self.heads = heads
        self.q, self.k, self.v = (nn.Linear(wide, wide, bias=False) for _ in range(3))
        self.out = nn.Linear(wide, wide)
        self.before, self.source, self.middle = nn.LayerNorm(wide), nn.LayerNorm(wide), nn.LayerNorm(wide)
        self.feed = nn.Sequential(nn.Linear(wide, 2 * wide), nn.GELU(), nn.Linear(2 * wide, wide))

    def forward(self, x: Tensor, to: Tensor, seen: Tensor) -> Tensor:
        """``seen`` (n, tokens of ``to``) is 0 where they may be looked at, very negative where not."""
        n, t, d = x.shape
        a, b = self.before(x), self.source(to)
        q, k, v = (
            m(s).reshape(n, -1, self.heads, d // self.heads).transpose(1, 2)
            for m, s in ((self.q, a), (self.k, b), (self.v, b))
        )
        weight = torch.softmax(q @ k.transpose(2, 3) * (d // self.heads) ** -0.5 + seen[:, None, None], -1)
        x = x + self.out((weight @ v).transpose(1, 2).reshape(n, t, d))
        return x + self.feed(self.middle(x))


def _places(height: int, width: int, wide: int, device: torch.device) -> Tensor:
    """(1, height * width, wide): sines of the place."""
    y, x = torch.meshgrid(torch.arange(height, device=device), torch.arange(width, device=device), indexing="ij")
    rate = torch.exp(torch.arange(wide // 4, device=device) * (-4.0 / (wide // 4)))
    parts = [f(axis.float()[..., None] * rate) for axis in (x, y) for f in (torch.sin, torch.cos)]
    return torch.cat(parts, -1).reshape(1, height * width, wide)


class Matcher(nn.Module):
    """Two pictures (n, 1, h, w), sides multiples of 16, and where they are seen (n, h, w): log-probabilities that cells
    of 8 px are the same place (n, cells a, cells b), chances in log-odds that a cell has a mate (n, cells), and the
    log-odds that both show one design (n,)."""

    def __init__(self, wide: int = 160, fine: int = 96, layers: int = 4) -> None:
        super().__init__()
        self.to_4 = nn.Sequential(_block(1, 32, 2), _block(32, 64, 2), _Residual(64))
        self.to_8 = nn.Sequential(_block(64, fine, 2), _Residual(fine))
        self.to_16 = nn.Sequential(_block(fine, wide, 2), _Residual(wide))
        self.own = nn.ModuleList(_Attend(wide) for _ in range(layers))
        self.cross = nn.ModuleList(_Attend(wide) for _ in range(layers))
        self.up = nn.Conv2d(wide, fine, 1)
        self.join = nn.Sequential(_block(2 * fine, fine, 1), nn.Conv2d(fine, fine, 3, 1, 1))
        self.mate = nn.Conv2d(fine, 1, 1)
        self.scale = nn.Parameter(torch.tensor(10.0))
        self.verdict = nn.Sequential(nn.Linear(2 * wide + 3, 64), nn.GELU(), nn.Linear(64, 1))

    def encode(self, x: Tensor) -> tuple[Tensor, Tensor]:
        eighth = self.to_8(self.to_4((x - 0.5) * 4))
        return eighth, self.to_16(eighth)

    def forward(self, a: Tensor, seen_a: Tensor, b: Tensor, seen_b: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        fine_a, deep_a = self.encode(a)
        fine_b, deep_b = self.encode(b)
        shape_a, shape_b = deep_a.shape[2:], deep_b.shape[2:]
        x, y = (d.flatten(2).transpose(1, 2) for d in (deep_a, deep_b))
        x = x + _places(*shape_a, x.shape[2], x.device)
        y = y + _places(*shape_b, y.shape[2], y.device)
        hide_a, hide_b = ((F.avg_pool2d(s[:, None], 16).flatten(1) - 1) * 50 for s in (seen_a, seen_b))
        for own, cross in zip(self.own, self.cross, strict=True):
            x, y = own(x, x, hide_a), own(y, y, hide_b)
            x, y = cross(x, y, hide_b), cross(y, x, hide_a)
        cells_a, mate_a = self._cells(x, shape_a, fine_a)
        cells_b, mate_b = self._cells(y, shape_b, fine_b)
        off_a, off_b = ((F.avg_pool2d(s[:, None], CELL_PX).flatten(1) - 1) * 50 for s in (seen_a, seen_b))
        score = cells_a @ cells_b.transpose(1, 2) * self.scale + off_a[:, :, None] + off_b[:, None]
        both = torch.log_softmax(score, 2) + torch.log_softmax(score, 1)
        weight_a, weight_b = (torch.exp(h)[..., None] / torch.exp(h).sum(1)[:, None, None] for h in (hide_a, hide_b))
        sure = torch.exp(both).amax(2) * torch.sigmoid(mate_a) * torch.exp(off_a)
        much = torch.stack(
            [
                sure.sum(1) / torch.exp(off_a).sum(1),
                (torch.sigmoid(mate_a) * torch.exp(off_a)).sum(1) / torch.exp(off_a).sum(1),
                (torch.sigmoid(mate_b) * torch.exp(off_b)).sum(1) / torch.exp(off_b).sum(1),
            ],
            1,
        )
        pooled = torch.cat([(x * weight_a).sum(1) + (y * weight_b).sum(1), (x.amax(1) + y.amax(1)), much], 1)
        return both, mate_a, mate_b, self.verdict(pooled)[:, 0]

    def _cells(self, x: Tensor, shape: torch.Size, fine: Tensor) -> tuple[Tensor, Tensor]:
        deep = self.up(x.transpose(1, 2).reshape(x.shape[0], x.shape[2], *shape))
        deep = F.interpolate(deep, scale_factor=2.0, mode="bilinear", align_corners=False)
        joined = self.join(torch.cat([deep, fine], 1))
        return F.normalize(joined.flatten(2).transpose(1, 2), dim=2), self.mate(joined).flatten(1)


class Global(nn.Module):
    """A vector of unit length (n, 128) of a picture (n, 1, 112, 112), stretched to a square."""

    def __init__(self, length: int = 128) -> None:
        super().__init__()
        self.body = nn.Sequential(
            _block(1, 24, 2),
            _block(24, 48, 2),
            _Residual(48),
            _block(48, 96, 2),
            _Residual(96),
            _block(96, 192, 2),
            _Residual(192),
            _Residual(192),
        )
        self.power = nn.Parameter(torch.tensor(3.0))
        self.out = nn.Linear(192 * 5, length)

    def forward(self, x: Tensor) -> Tensor:
        deep = self.body((x - 0.5) * 4).clamp(min=1e-4)
        power = self.power.clamp(1, 6)
        pooled = [deep.pow(power).mean((2, 3)).pow(1 / power)]
        # Quarters beside the whole, so that where things are counts.
        half = deep.shape[2] // 2
        for rows in (slice(0, half), slice(half, None)):
            for columns in (slice(0, half), slice(half, None)):
                pooled.append(deep[:, :, rows, columns].pow(power).mean((2, 3)).pow(1 / power))
        return F.normalize(self.out(torch.cat(pooled, 1)), dim=1)
