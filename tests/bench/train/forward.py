"""A forward model of film, print, brush and camera in PyTorch: two views of one design, and which places are the same.

It shares no code with the treatments that the bench judges by; every figure is drawn anew for every view.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from tests.bench.train.art import Pool

FRAME_PX = 256
_LETTERINGS = 192
_WORDS = ("HARROW", "VESPER", "LANTERN", "QUILL", "MERIDIAN", "OXBOW", "CINDER", "FATHOM", "BRINE", "GANTRY", "SORREL")


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """``grey`` (n, 1, 256, 256) in [0, 1], seen where ``inside`` (n, 256, 256) is 1; ``to_art`` (n, 3, 3) takes frame
    pixels to shares of the art; ``hidden`` (n, k, 4) are shares of the art that the view shows otherwise."""

    grey: Tensor
    inside: Tensor
    to_art: Tensor
    hidden: Tensor


class Forward:
    """Draws views. One seed decides all."""

    def __init__(self, pool: Pool, device: str, seed: int, frame_px: int = FRAME_PX, parts: float = 0.15) -> None:
        self.device, self.frame_px, self.parts = device, frame_px, parts
        self.rng = torch.Generator(device=device).manual_seed(seed)
        self.pixels = torch.from_numpy(pool.pixels).permute(0, 1, 4, 2, 3).contiguous().to(device)
        self.aspect = torch.from_numpy(pool.aspect).to(device)
        self.edited = torch.from_numpy(pool.edited).to(device)
        self.genre = torch.from_numpy(pool.genre).to(device)
        self.letterings = torch.from_numpy(_letterings(np.random.default_rng(seed))).to(device)

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        return low + (high - low) * torch.rand(*shape, generator=self.rng, device=self.device)

    def normal(self, *shape: int) -> Tensor:
        return torch.randn(*shape, generator=self.rng, device=self.device)

    def chance(self, share: float, n: int) -> Tensor:
        return torch.rand(n, generator=self.rng, device=self.device) < share

    def pick(self, below: int, n: int) -> Tensor:
        return torch.randint(below, (n,), generator=self.rng, device=self.device)

    def alike(self, n: int) -> tuple[Views, Views, Tensor]:
        """Two views each of n designs, and which designs they are."""
        design = self.pick(len(self.pixels), n)
        common = (self.pick(4, n), self.chance(0.5, n), self.chance(0.5, n))
        letterings = [torch.where(self.chance(0.45, n), self.pick(_LETTERINGS, n), -1) for _ in range(2)]
        return self.view(design, letterings[0], common), self.view(design, letterings[1], common), design

    def pairs(self, n: int, strangers: float) -> tuple[Views, Views, Tensor]:
        """Two views each of n designs; of a share the second shows another design, mostly one of the same composition,
        and two in five of these under one lettering. The third answer is (n,) True where both show one design."""
        first = self.pick(len(self.pixels), n)
        strange = self.chance(strangers, n)
        far = torch.rand(n, len(self.pixels), generator=self.rng, device=self.device)
        hard = self.chance(0.7, n)[:, None] & (self.genre[first][:, None] != self.genre)
        own = torch.arange(len(self.pixels), device=self.device) == first[:, None]
        stranger = (far - hard.float() - 2 * own.float()).argmax(1)
        other = torch.where(strange, stranger, first)
        lettering = self.pick(_LETTERINGS, n)
        shared = self.chance(0.3, n) | (strange & self.chance(0.4, n))
        second = torch.where(shared, lettering, self.pick(_LETTERINGS, n))
        lettered = self.chance(0.45, n), self.chance(0.45, n)
        lettered = (lettered[0] | (strange & shared), lettered[1] | (strange & shared))
        # Both are turned over together: what differs between them is told by hypothesis, what is common is not.
        common = (self.pick(4, n), self.chance(0.5, n), self.chance(0.5, n))
        a = self.view(first, torch.where(lettered[0], lettering, -1), common)
        b = self.view(other, torch.where(lettered[1], second, -1), common)
        return a, b, ~strange

    def view(self, design: Tensor, lettering: Tensor, common: tuple[Tensor, Tensor, Tensor]) -> Views:
        n = len(design)
        version = self.pick(self.pixels.shape[1], n)
        aspect, window = self._window(design, n)
        width = torch.clamp(self.frame_px * aspect, max=self.frame_px)
        height = torch.clamp(self.frame_px / aspect, max=self.frame_px)
        to_art = self._camera(window, width, height, n)
        to_art = _turned(to_art, width, height, common[0], common[1])
        odd = common[0] % 2 == 1
        width, height = torch.where(odd, height, width), torch.where(odd, width, height)
        y, x = torch.meshgrid(
            *(torch.arange(self.frame_px, device=self.device, dtype=torch.float32),) * 2, indexing="ij"
        )
        inside = (x < width[:, None, None]) & (y < height[:, None, None])
        at = _apply(to_art, torch.stack([x, y], -1).reshape(1, -1, 2)).reshape(n, self.frame_px, self.frame_px, 2)
        at = at + self._field(n, 5).permute(0, 2, 3, 1) * self.uniform(0, 0.008, n)[:, None, None, None]
        source, patches = self._patched(at, n)
        art = self.pixels[design, version].float() / 255
        seen = F.grid_sample(art, source * 2 - 1, align_corners=False, padding_mode="border")
        off = ((at < 0) | (at > 1)).any(-1)[:, None]
        ground = self.uniform(0, 1, n, 3, 1, 1) + 0.1 * self._field(n, 24)[:, :1] * self.uniform(0, 1, n, 1, 1, 1)
        seen = torch.where(off, ground, seen)
        seen, blocks = self._covered(seen, at, n)
        seen = self._lettered(seen, at, lettering)
        grey = self._developed(seen, inside, n)
        grey = torch.where(common[2][:, None, None, None], 1 - grey, grey)
        hidden = torch.cat([self.edited[design, version], patches, blocks], 1)
        return Views(grey * inside[:, None], inside.float(), to_art, hidden)

    def _window(self, design: Tensor, n: int) -> tuple[Tensor, Tensor]:
        """Aspect of the frame and (n, 4) what of the art it shows: nearly all, more than all, or a part."""
        edges = self.uniform(-0.06, 0.12, n, 4)
        part, far = self.chance(self.parts, n), self.chance(0.2, n)
        edges = torch.where(far[:, None], -self.uniform(0.03, 0.3, n, 4), edges)
        wide, tall = self.uniform(0.45, 1, n), self.uniform(0.35, 0.8, n)
        left, top = self.uniform(0, 1, n) * (1 - wide), self.uniform(0, 1, n) * (1 - tall)
        some = torch.stack([left, top, left + wide, top + tall], 1)
        most = torch.stack([edges[:, 0], edges[:, 1], 1 - edges[:, 2], 1 - edges[:, 3]], 1)
        window = torch.where(part[:, None], some, most)
        squeeze = torch.exp(0.06 * self.normal(n)) * torch.where(self.chance(0.2, n), self.uniform(0.7, 1.4, n), 1.0)
        shown = (window[:, 2] - window[:, 0]) / (window[:, 3] - window[:, 1])
        return torch.clamp(self.aspect[design] * shown * squeeze, 0.4, 2.5), window

    def _camera(self, window: Tensor, width: Tensor, height: Tensor, n: int) -> Tensor:
        zero = torch.zeros_like(width)
        corners = torch.stack(
            [torch.stack(c, 1) for c in ((zero, zero), (width, zero), (width, height), (zero, height))], 1
        )
        left, top, right, bottom = window.unbind(1)
        target = torch.stack(
            [torch.stack(c, 1) for c in ((left, top), (right, top), (right, bottom), (left, bottom))], 1
        )
        by_hand = torch.where(self.chance(0.35, n), 0.07, 0.006)[:, None, None]
        target = target + self.uniform(-1, 1, n, 4, 2) * by_hand
        turn = self.uniform(-1, 1, n) * torch.where(self.chance(0.3, n), 0.15, 0.02)
        middle = target.mean(1, keepdim=True)
        cos, sin = torch.cos(turn)[:, None], torch.sin(turn)[:, None]
        d = target - middle
        target = middle + torch.stack([cos * d[..., 0] - sin * d[..., 1], sin * d[..., 0] + cos * d[..., 1]], -1)
        return homography(corners, target)

    def _field(self, n: int, cells: int) -> Tensor:
        """(n, 2, 256, 256) smooth noise of about unit size."""
        coarse = self.normal(n, 2, cells, cells)
        return F.interpolate(coarse, size=(self.frame_px, self.frame_px), mode="bicubic", align_corners=False)

    def _patched(self, at: Tensor, n: int) -> tuple[Tensor, Tensor]:
        """Elements scaled and moved: (where to read the art, (n, 2, 4) where it differs)."""
        areas = []
        for _ in range(2):
            size, centre = self.uniform(0.1, 0.26, n, 2), self.uniform(0.15, 0.85, n, 2)
            low, high = centre - size / 2, centre + size / 2
            on = self.chance(0.35, n)
            inside = ((at > low[:, None, None]) & (at < high[:, None, None])).all(-1) & on[:, None, None]
            factor = self.uniform(0.7, 1.3, n)[:, None, None, None]
            shift = self.uniform(-0.05, 0.05, n, 1, 1, 2)
            moved = centre[:, None, None] + (at - centre[:, None, None]) / factor + shift
            at = torch.where(inside[..., None], moved, at)
            areas.append(torch.cat([low, high], 1) * on[:, None])
        return at, torch.stack(areas, 1)

    def _covered(self, seen: Tensor, at: Tensor, n: int) -> tuple[Tensor, Tensor]:
        """A flat block and a strip pasted over."""
        areas = []
        for low_size, high_size in (((0.08, 0.04), (0.3, 0.2)), ((0.5, 0.05), (1.2, 0.12))):
            size = torch.stack([self.uniform(low_size[k], high_size[k], n) for k in (0, 1)], 1)
            centre = self.uniform(0.05, 0.95, n, 2)
            low, high = centre - size / 2, centre + size / 2
            on = self.chance(0.3, n)
            inside = ((at > low[:, None, None]) & (at < high[:, None, None])).all(-1) & on[:, None, None]
            tone = self.uniform(0, 1, n, 3, 1, 1)
            seen = torch.where(inside[:, None], tone, seen)
            areas.append(torch.cat([low, high], 1) * on[:, None])
        return seen, torch.stack(areas, 1)

    def _lettered(self, seen: Tensor, at: Tensor, lettering: Tensor) -> Tensor:
        """Title and billing block over the art, as on a sheet; -1 is none."""
        drawn = self.letterings[lettering.clamp(min=0)].float() / 255
        laid = F.grid_sample(drawn, at * 2 - 1, align_corners=False, padding_mode="zeros")
        alpha = laid[:, 3:] * (lettering >= 0).float()[:, None, None, None]
        return seen * (1 - alpha) + laid[:, :3] * alpha

    def _developed(self, seen: Tensor, inside: Tensor, n: int) -> Tensor:
        """Palette, film, tone, light, softness, grain: (n, 1, 256, 256)."""
        angle = self.normal(n) * 0.25 + torch.where(self.chance(0.15, n), self.uniform(-3.1, 3.1, n), 0.0)
        seen = torch.einsum("nij,njhw->nihw", _hue(angle), seen) + 0.0
        mix = self.uniform(0, 1, n, 3) ** 1.5
        mix = torch.where(self.chance(0.4, n)[:, None], torch.tensor([0.3, 0.59, 0.11], device=self.device), mix)
        grey = (seen * (mix / mix.sum(1, keepdim=True))[..., None, None]).sum(1, keepdim=True).clamp(0, 1)
        grey = self._film(grey, n)
        light = 1 + self.uniform(0, 0.35, n, 1, 1, 1) * F.interpolate(
            self.normal(n, 1, 3, 3), size=(self.frame_px, self.frame_px), mode="bicubic", align_corners=False
        )
        grey = grey * torch.where(self.chance(0.5, n)[:, None, None, None], light, 1.0)
        glare = self._glare(n) * self.chance(0.15, n)[:, None, None, None]
        grey = self._folded(grey + glare, n)
        grey = _softened(grey, torch.where(self.chance(0.6, n), self.uniform(0.2, 1.8, n), 0.05))
        grain = _softened(self.normal(n, 1, self.frame_px, self.frame_px), self.uniform(0.05, 0.9, n))
        return _stretched(grey + grain * self.uniform(0, 0.05, n, 1, 1, 1), inside)

    def _film(self, grey: Tensor, n: int) -> Tensor:
        wide = (n, 1, 1, 1)
        gamma = grey.clamp(1e-4) ** torch.exp(self.uniform(-0.7, 0.7, *wide))
        fog = self.uniform(0.005, 0.05, *wide)
        density = torch.log10((grey**2.2 + fog) / fog) * self.uniform(0.4, 0.8, *wide)
        film = 1 - 10 ** (-density / 2.2)
        middle = self.uniform(0.3, 0.7, *wide)
        line = torch.sigmoid((grey - middle) / self.uniform(0.035, 0.1, *wide))
        knots = torch.cumsum(self.uniform(0.02, 1, n, 9), 1)
        knots = (knots - knots[:, :1]) / (knots[:, -1:] - knots[:, :1])
        turned = self.chance(0.08, n)[:, None]
        knots = torch.where(turned, self.uniform(0, 1, n, 9), knots)
        place = grey.clamp(0, 1) * 8
        low = place.long().clamp(max=7)
        flat = low.reshape(n, -1)
        curved = torch.lerp(
            knots.gather(1, flat).reshape(grey.shape),
            knots.gather(1, flat + 1).reshape(grey.shape),
            place - low,
        )
        kind = torch.multinomial(
            torch.tensor([0.3, 0.3, 0.1, 0.3], device=self.device), n, replacement=True, generator=self.rng
        )[:, None, None, None]
        return torch.where(kind == 0, gamma, torch.where(kind == 1, film, torch.where(kind == 2, line, curved)))

    def _glare(self, n: int) -> Tensor:
        y, x = torch.meshgrid(
            *(torch.arange(self.frame_px, device=self.device, dtype=torch.float32),) * 2, indexing="ij"
        )
        at, size = self.uniform(20, 230, n, 2), self.uniform(12, 60, n)
        square = (x - at[:, 0, None, None]) ** 2 + (y - at[:, 1, None, None]) ** 2
        return (self.uniform(0.3, 1.2, n)[:, None, None] * torch.exp(-square / (2 * size[:, None, None] ** 2)))[:, None]

    def _folded(self, grey: Tensor, n: int) -> Tensor:
        line = torch.arange(self.frame_px, device=self.device)
        for axis in (2, 3):
            for _ in range(2):
                at, on = self.uniform(30, 226, n), self.chance(0.2, n)
                near = (line[None] - at[:, None]).abs() < self.uniform(0.5, 1.5, n)[:, None]
                mask = (near & on[:, None]).view(n, 1, -1, 1) if axis == 2 else (near & on[:, None]).view(n, 1, 1, -1)
                grey = torch.where(mask, grey * 0.35 + 0.6, grey)
        return grey


def _letterings(rng: np.random.Generator) -> np.ndarray:
    """(n, 4, 256, 256) RGB and cover: title, billing block, band."""
    made = np.zeros((_LETTERINGS, 4, 256, 256), np.uint8)
    for n in range(_LETTERINGS):
        cover, colour = np.zeros((256, 256), np.uint8), np.zeros((256, 256, 3), np.uint8)
        ink = rng.integers(0, 256, 3)
        colour[:] = ink
        low = int(rng.uniform(0.78, 0.9) * 256)
        if rng.random() < 0.5:
            cover[low:], colour[low:] = 255, rng.integers(200, 250, 3)
        text = np.zeros((256, 256), np.uint8)
        title = " ".join(rng.choice(_WORDS, int(rng.integers(1, 3))))
        at = (int(rng.uniform(4, 60)), int(rng.choice([rng.uniform(20, 60), rng.uniform(170, 200)])))
        face = int(rng.integers(0, 5))
        cv2.putText(text, title, at, face, float(rng.uniform(0.6, 1.3)), 255, int(rng.integers(1, 4)), cv2.LINE_AA)
        for row in range(int(rng.integers(2, 5))):
            line = " ".join(rng.choice(_WORDS, 8))
            cv2.putText(text, line, (12, low + 8 + row * 9), 0, 0.25, 255, 1, cv2.LINE_AA)
        colour[text > 60] = ink if rng.random() < 0.7 else rng.integers(0, 256, 3)
        made[n] = np.dstack([colour, np.maximum(cover, text)]).transpose(2, 0, 1)
    return made


def homography(source: Tensor, target: Tensor) -> Tensor:
    """(n, 3, 3) from four corners (n, 4, 2) each, float32."""
    x, y, u, v = source[..., 0].double(), source[..., 1].double(), target[..., 0].double(), target[..., 1].double()
    one, zero = torch.ones_like(x), torch.zeros_like(x)
    top = torch.stack([x, y, one, zero, zero, zero, -u * x, -u * y], -1)
    low = torch.stack([zero, zero, zero, x, y, one, -v * x, -v * y], -1)
    solved = torch.linalg.solve(torch.cat([top, low], 1), torch.cat([u, v], 1))
    return torch.cat([solved, torch.ones_like(solved[:, :1])], 1).reshape(-1, 3, 3).float()


def _apply(matrix: Tensor, points: Tensor) -> Tensor:
    mapped = points @ matrix[:, :, :2].transpose(1, 2) + matrix[:, None, :, 2]
    return mapped[..., :2] / mapped[..., 2:].clamp(min=1e-6)


apply = _apply


def _turned(to_art: Tensor, width: Tensor, height: Tensor, quarters: Tensor, mirrored: Tensor) -> Tensor:
    """Turn the frame by quarters, then mirror it left to right: where its pixels are taken from."""
    n, device = len(width), width.device
    eye = torch.eye(3, device=device).repeat(n, 1, 1)
    w, h = width, height
    flips = []
    for rows in ((1, 0, 0, 0, 1, 0), (0, 1, 0, -1, 0, "h"), (-1, 0, "w", 0, -1, "h"), (0, -1, "w", 1, 0, 0)):
        m = eye.clone()
        for k, value in enumerate(rows):
            m[:, k // 3, k % 3] = {"h": h, "w": w}[value] if isinstance(value, str) else float(value)
        flips.append(m)
    turn = torch.stack(flips, 1)[torch.arange(n, device=device), quarters]
    now_wide = torch.where(quarters % 2 == 1, h, w)
    mirror = eye.clone()
    mirror[:, 0, 0] = torch.where(mirrored, -1.0, 1.0)
    mirror[:, 0, 2] = torch.where(mirrored, now_wide, torch.zeros_like(now_wide))
    return to_art @ turn @ mirror


def _hue(angle: Tensor) -> Tensor:
    """(n, 3, 3) turns about the grey axis."""
    cos, sin = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
    third = torch.full((3, 3), 1 / 3, device=angle.device)
    cross = torch.tensor([[0, -1, 1], [1, 0, -1], [-1, 1, 0.0]], device=angle.device) / math.sqrt(3)
    return cos * torch.eye(3, device=angle.device) + (1 - cos) * third + sin * cross


def _softened(picture: Tensor, sigma: Tensor) -> Tensor:
    """Gaussian blur, each picture by its own sigma (px)."""
    n = len(picture)
    reach = torch.arange(-5, 6, device=picture.device, dtype=torch.float32)
    kernel = torch.exp(-(reach**2) / (2 * sigma.clamp(min=0.05)[:, None] ** 2))
    kernel = kernel / kernel.sum(1, keepdim=True)
    flat = picture.transpose(0, 1)
    flat = F.conv2d(F.pad(flat, (5, 5, 0, 0), "replicate"), kernel[:, None, None], groups=n)
    flat = F.conv2d(F.pad(flat, (0, 0, 5, 5), "replicate"), kernel[:, None, :, None], groups=n)
    return flat.transpose(0, 1)


def _stretched(grey: Tensor, inside: Tensor) -> Tensor:
    """To the full range, a hundredth of the pixels cut at either end."""
    some = torch.where(inside[:, None], grey, torch.nan)[:, :, ::4, ::4].flatten(1)
    low, high = (torch.nanquantile(some, q, dim=1)[:, None, None, None] for q in (0.01, 0.99))
    return ((grey - low) / (high - low).clamp(min=0.02)).clamp(0, 1)
