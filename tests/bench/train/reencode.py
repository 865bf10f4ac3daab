"""Train a small network that writes RootSIFT descriptors anew, so that the same place of two pictures comes nearer.

    python -m tests.bench.train.reencode --pool POOL --art DIR --to DIR --pairs 6000 --minutes 3

Mates are keypoints that the forward model says are one place, seen at the size of a fingerprint. Seeded; prints how
often the right mate is the nearest on designs held out of the training, before and after.
"""

import argparse
import os
import time
import tomllib
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor, nn

from intake.config.fingerprint import FingerprintRules
from intake.imaging.keypoints import describe
from intake.imaging.permute import STEP
from tests.bench.train.art import is_taught, load
from tests.bench.train.forward import Forward, Views
from tests.bench.train.learn import split

FRAME_PX = 384
_NEAR_PX, _SAME_TURN, _SAME_GROWTH = 2.5, 0.85, 0.45
_MATES = 64
"""Of one pair of views, at most; its others stand in the batch as strangers anyway."""

Mates = tuple[NDArray[np.uint8], NDArray[np.uint8]]
RULES = FingerprintRules.model_validate(tomllib.loads(Path("config/fingerprint.toml").read_text("utf-8")))


class Encoder(nn.Module):
    """Descriptors (n, 128) of length 1 to others (n, 128) of length 1."""

    def __init__(self, wide: int = 448) -> None:
        super().__init__()
        self.layers = nn.Sequential(
            nn.Linear(128, wide), nn.ReLU(), nn.Dropout(0.2), nn.Linear(wide, wide), nn.ReLU(), nn.Dropout(0.2),
            nn.Linear(wide, 128),
        )  # fmt: skip

    def forward(self, x: Tensor) -> Tensor:
        return F.normalize(x + self.layers((x - 0.07) * 8), dim=1)


def mates_of(task: tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.float64], NDArray[np.float64]]) -> Mates:
    """Descriptors (n, 128) of keypoints of two views that are one place: ``to_b`` takes pixels of a to b, (3, 3);
    ``hidden`` (k, 4) are boxes of a, in its pixels, that the views show otherwise."""
    a, b, to_b, hidden = task
    (points_a, found_a), (points_b, found_b) = describe(a, RULES), describe(b, RULES)
    if not len(points_a) or not len(points_b):
        return found_a[:0], found_b[:0]
    at, step = points_a[:, :2].astype(np.float64), np.radians(points_a[:, 3].astype(np.float64))
    ahead = at + points_a[:, 2:3] * np.column_stack([np.cos(step), np.sin(step)])
    there, then = _mapped(to_b, at), _mapped(to_b, ahead) - _mapped(to_b, at)
    miss = np.hypot(*(there[:, None] - points_b[None, :, :2]).transpose(2, 0, 1))
    turn = np.radians(points_b[None, :, 3]) - np.arctan2(then[:, 1], then[:, 0])[:, None]
    growth = np.log(points_b[None, :, 2] / np.hypot(*then.T)[:, None])
    alike = (miss < _NEAR_PX) & (np.cos(turn) > _SAME_TURN) & (np.abs(growth) < _SAME_GROWTH)
    changed = ((at[:, None] > hidden[:, :2]) & (at[:, None] < hidden[:, 2:])).all(2).any(1)
    miss[~alike | changed[:, None]] = np.inf
    mate = miss.argmin(1)
    mutual = np.isfinite(miss.min(1)) & (miss.argmin(0)[mate] == np.arange(len(mate)))
    return found_a[mutual], found_b[mate[mutual]]


def _mapped(matrix: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    mapped = np.column_stack([at, np.ones(len(at))]) @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def gathered(draw: Forward, pairs: int, batch: int, workers: int) -> list[Mates]:
    """Mates of so many pairs of views, those with fewer than four left out."""
    found: list[Mates] = []
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        for _ in range(-(-pairs // batch)):
            with torch.no_grad():
                a, b, _ = draw.alike(batch)
            found += pool.map(mates_of, _tasks(a, b), chunksize=8)
    return [m for m in found if len(m[0]) >= 4]


def _tasks(a: Views, b: Views) -> list[tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.float64], NDArray]]:
    to_b = (torch.linalg.inv(b.to_art.double()) @ a.to_art.double()).cpu().numpy()
    back = torch.linalg.inv(a.to_art.double()).cpu().numpy()
    hidden = torch.cat([a.hidden, b.hidden], 1).double().cpu().numpy()
    made = []
    for n in range(len(to_b)):
        corners = hidden[n][:, [0, 1, 2, 1, 2, 3, 0, 3]].reshape(-1, 2)
        boxes = _mapped(back[n], corners).reshape(-1, 4, 2)
        made.append((_seen(a, n), _seen(b, n), to_b[n], np.hstack([boxes.min(1), boxes.max(1)])))
    return made


def _seen(views: Views, n: int) -> NDArray[np.uint8]:
    high, wide = int(views.inside[n, :, 0].sum()), int(views.inside[n, 0].sum())
    return np.ascontiguousarray((views.grey[n, 0, :high, :wide] * 255).round().byte().cpu().numpy())


def drawn(mates: list[Mates], chosen: NDArray[np.intp], rng: np.random.Generator, device: str) -> tuple[Tensor, Tensor]:
    """Descriptors of the mates of some pairs of views, side by side."""
    one, other = [], []
    for n in chosen:
        a, b = mates[n]
        some = rng.permutation(len(a))[:_MATES]
        one.append(a[some])
        other.append(b[some])
    return tuple(F.normalize(torch.from_numpy(np.concatenate(x)).to(device) * STEP, dim=1) for x in (one, other))


def first_share(net: nn.Module | None, mates: list[Mates], device: str) -> float:
    """How often the right mate is the nearest of all mates of 24 pairs of views."""
    rng, right, of = np.random.default_rng(0), 0, 0
    for start in range(0, len(mates), 24):
        a, b = drawn(mates, np.arange(start, min(start + 24, len(mates))), rng, device)
        with torch.no_grad():
            a, b = (net(a), net(b)) if net else (a, b)
        right += int(((a @ b.T).argmax(1) == torch.arange(len(a), device=device)).sum())
        of += len(a)
    return right / max(of, 1)


def main() -> None:
    """Train as the command line says."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--pool", type=Path, required=True, help="package tiles of the tuning side")
    ask.add_argument("--art", type=Path, required=True, help="where paintings are kept")
    ask.add_argument("--to", type=Path, required=True)
    ask.add_argument("--designs", type=int, default=700)
    ask.add_argument("--pairs", type=int, default=6000)
    ask.add_argument("--minutes", type=float, default=3)
    ask.add_argument("--steps", type=int, default=10**9)
    ask.add_argument("--seed", type=int, default=1)
    told = ask.parse_args()
    torch.manual_seed(told.seed)
    device, cores = "cuda" if torch.cuda.is_available() else "cpu", os.cpu_count() or 1
    tiles = [p for p in sorted(told.pool.glob("tune-*")) if is_taught(p.name)]
    taught, held = split(load(told.art, told.designs, tiles, cores))
    batch = min(96, told.pairs)
    mates = gathered(Forward(taught, device, told.seed, FRAME_PX), told.pairs, batch, cores)
    check = gathered(Forward(held, device, told.seed + 1, FRAME_PX), max(1, told.pairs // 10), batch, cores)
    print(len(mates), "pairs of views,", sum(len(a) for a, _ in mates), "mates", flush=True)
    net, best = Encoder().to(device), (0.0, {})
    print(f"nearest is right on held-out designs: {first_share(None, check, device):.3f} as they are", flush=True)
    optimiser = torch.optim.AdamW(net.parameters(), lr=1e-3, weight_decay=0.02)
    rng, started, done, share = np.random.default_rng(told.seed), time.time(), 0, 0.0
    while share < 1 and done < told.steps:
        share = min(1.0, (time.time() - started) / (60 * told.minutes))
        for group in optimiser.param_groups:
            group["lr"] = 1e-3 * min(1, (done + 1) / 200) * (0.02 + 0.98 * (1 - share))
        a, b = drawn(mates, rng.permutation(len(mates))[:64], rng, device)
        score = net(a) @ net(b).T / 0.06
        goal = torch.arange(len(a), device=device)
        loss = (F.cross_entropy(score, goal) + F.cross_entropy(score.T, goal)) / 2
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        done += 1
        if done % 500 == 0 or share >= 1 or done == told.steps:
            net.eval()
            right = first_share(net, check, device)
            net.train()
            print(done, f"{loss.item():.3f}", f"held out {right:.3f}", flush=True)
            if right > best[0]:
                best = right, {k: v.detach().cpu().clone() for k, v in net.state_dict().items()}
    told.to.mkdir(parents=True, exist_ok=True)
    torch.save(best[1], told.to / "encoder.pt")
    np.savez(told.to / "encoder.npz", **{k: v.numpy() for k, v in best[1].items()})
    print(f"nearest is right on held-out designs: {best[0]:.3f}")


if __name__ == "__main__":
    main()
