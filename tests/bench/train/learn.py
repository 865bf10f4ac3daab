"""Train both networks on the forward model and export them.

    python -m tests.bench.train.learn --what closer --pool POOL --art DIR --to DIR --minutes 9

Needs ``pip install torch onnx``, which nothing at run time does. Runs on whatever accelerator PyTorch finds, and
small on a CPU (``--steps 2 --batch 2``). Seeded; prints how designs held out of the training fare.
"""

import argparse
import math
import os
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from tests.bench.train.art import Pool, is_taught, load
from tests.bench.train.export import export
from tests.bench.train.forward import FRAME_PX, Forward, Views, apply
from tests.bench.train.nets import CELL_PX, Global, Matcher

Step = Callable[[torch.nn.Module, Forward], tuple[Tensor, dict[str, float]]]


def mates(a: Views, b: Views, same: Tensor) -> tuple[Tensor, Tensor]:
    """(n, cells a) the cell of b that shows the same place, -1 where none does, -2 where nobody can say; and where
    cells of b are seen from a at all (n, cells b), 1, 0 or -1 for nobody can say."""
    n, side = len(same), FRAME_PX // CELL_PX
    device = same.device
    axis = (torch.arange(side, device=device) + 0.5) * CELL_PX
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    centres = torch.stack([x, y], -1).reshape(1, -1, 2).expand(n, -1, 2)
    there, known_a = _carry(a, b, centres, same)
    _, known_b = _carry(b, a, centres, same)
    column, row = (there / CELL_PX).floor().unbind(-1)
    cell = (row * side + column).long()
    target = torch.where(known_a == 1, cell, torch.where(known_a == 0, -1, -2))
    return target, known_b


def _carry(one: Views, other: Views, at: Tensor, same: Tensor) -> tuple[Tensor, Tensor]:
    """Where points of one lie in the other, and 1 if there, 0 if surely not, -1 if nobody can say."""
    art = apply(one.to_art, at)
    there = apply(torch.linalg.inv(other.to_art), art)
    cell = (at / CELL_PX).long()
    n = torch.arange(len(at), device=at.device)[:, None]
    here_seen = one.inside[n, cell[..., 1] * CELL_PX, cell[..., 0] * CELL_PX] > 0
    px = there.round().long()
    within = ((px >= 0) & (px < FRAME_PX)).all(-1)
    px = px.clamp(0, FRAME_PX - 1)
    seen = within & (other.inside[n, px[..., 1], px[..., 0]] > 0)
    of_art = ((art > 0) & (art < 1)).all(-1)
    hidden = torch.cat([one.hidden, other.hidden], 1)
    edited = (
        ((art[:, :, None] > hidden[:, None, :, :2] - 0.01) & (art[:, :, None] < hidden[:, None, :, 2:] + 0.01))
        .all(-1)
        .any(-1)
    )
    known = torch.where(of_art & seen, 1, 0)
    known = torch.where(edited & of_art, -1, known)
    known = torch.where(same[:, None], known, 0)
    return there, torch.where(here_seen, known, -1)


def _quick(like: Tensor) -> torch.autocast:
    """bfloat16 on an accelerator, for the network alone: places need all their digits."""
    return torch.autocast(like.device.type, torch.bfloat16, enabled=like.device.type == "cuda")


def matching_loss(net: torch.nn.Module, a: Views, b: Views, same: Tensor) -> tuple[Tensor, dict[str, float]]:
    with _quick(a.grey):
        both, mate_a, mate_b, verdict = net(a.grey, a.inside, b.grey, b.inside)
    target, known_b = mates(a, b, same)
    there = target >= 0
    chosen = both.float().gather(2, target.clamp(min=0)[..., None])[..., 0]
    place = -(chosen * there).sum() / there.sum().clamp(min=1)
    told = target > -2
    mate = F.binary_cross_entropy_with_logits(mate_a.float(), there.float(), reduction="none")
    mate = (mate * told).sum() / told.sum().clamp(min=1)
    told_b = known_b >= 0
    back = F.binary_cross_entropy_with_logits(mate_b.float(), known_b.clamp(min=0).float(), reduction="none")
    back = (back * told_b).sum() / told_b.sum().clamp(min=1)
    says = F.binary_cross_entropy_with_logits(verdict.float(), same.float())
    with torch.no_grad():
        side = FRAME_PX // CELL_PX
        best = both.argmax(2)
        off = torch.maximum(((best // side) - (target // side)).abs(), ((best % side) - (target % side)).abs())
        near = float(((off <= 1) & there).sum() / there.sum().clamp(min=1))
        right = float(((verdict > 0) == same).float().mean())
    figures = {"place": place.item(), "mate": mate.item(), "says": says.item(), "near": near, "right": right}
    return 0.5 * place + mate + back + says, figures


def vectors_loss(net: torch.nn.Module, a: Views, b: Views, designs: Tensor) -> tuple[Tensor, dict[str, float]]:
    """Contrastive (each view against all others) and spread out (Sablayrolles et al. 2019)."""
    one, other = _square(a), _square(b)
    with _quick(one):
        v, w = net(one).float(), net(other).float()
    goal = torch.arange(len(v), device=v.device)
    alike = (designs[:, None] == designs) & (goal[:, None] != goal)
    score = (v @ w.T / 0.06).masked_fill(alike, -1e4)
    contrast = (F.cross_entropy(score, goal) + F.cross_entropy(score.T, goal)) / 2
    apart = torch.cdist(v, v) + 10 * (designs[:, None] == designs)
    spread = -torch.log(apart.amin(1) + 1e-4).mean()
    first = float((score.argmax(1) == goal).float().mean())
    return contrast + 0.3 * spread, {"contrast": contrast.item(), "first": first}


def _square(views: Views) -> Tensor:
    """What is inside each frame, stretched to 112 px."""
    n = len(views.grey)
    high, wide = views.inside[:, :, 0].sum(1) / FRAME_PX, views.inside[:, 0].sum(1) / FRAME_PX
    axis = (torch.arange(112, device=views.grey.device) + 0.5) / 112
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    at = torch.stack([x[None] * wide[:, None, None], y[None] * high[:, None, None]], -1).expand(n, 112, 112, 2)
    return F.grid_sample(F.avg_pool2d(views.grey, 3, 1, 1), at * 2 - 1, align_corners=False)


def split(pool: Pool) -> tuple[Pool, Pool]:
    """What is taught, and every tenth design, which is held out."""
    held = np.arange(len(pool.aspect)) % 10 == 9
    taught = ~held
    return (
        Pool(pool.pixels[taught], pool.aspect[taught], pool.edited[taught], pool.genre[taught]),
        Pool(pool.pixels[held], pool.aspect[held], pool.edited[held], pool.genre[held]),
    )


def train(net: torch.nn.Module, step: Step, pool: Pool, told: argparse.Namespace, device: str) -> None:
    """AdamW with warm-up and cosine until time or steps are out; tells how designs held out fare."""
    taught, held = split(pool)
    draw, check = (Forward(p, device, told.seed + n, parts=told.parts) for n, p in enumerate((taught, held)))
    net.to(device)
    optimiser = torch.optim.AdamW(net.parameters(), lr=told.rate, weight_decay=0.02)
    started, done, share = time.time(), 0, 0.0
    while share < 1 and done < told.steps:
        share = min(1.0, (time.time() - started) / (60 * told.minutes))
        for group in optimiser.param_groups:
            group["lr"] = told.rate * min(1, (done + 1) / 200) * (0.02 + 0.98 * (0.5 + 0.5 * math.cos(math.pi * share)))
        loss, figures = step(net, draw)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        done += 1
        if done % told.tell == 0:
            net.eval()
            with torch.no_grad():
                found = [step(net, check)[1] for _ in range(4)]
            net.train()
            held_out = {k: round(float(np.mean([f[k] for f in found])), 3) for k in found[0]}
            here = {k: round(v, 3) for k, v in figures.items()}
            print(done, f"{time.time() - started:.0f} s", here, "held out", held_out, flush=True)


def main() -> None:
    """Train as the command line says."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--what", choices=("closer", "glance"), required=True)
    ask.add_argument("--pool", type=Path, required=True, help="package tiles of the tuning side")
    ask.add_argument("--art", type=Path, required=True, help="where paintings are kept")
    ask.add_argument("--to", type=Path, required=True)
    ask.add_argument("--designs", type=int, default=700)
    ask.add_argument("--minutes", type=float, default=9)
    ask.add_argument("--steps", type=int, default=10**9)
    ask.add_argument("--batch", type=int, default=96)
    ask.add_argument("--rate", type=float, default=1e-3)
    ask.add_argument("--tell", type=int, default=250)
    ask.add_argument("--parts", type=float, default=0.15, help="share of views that show a part of the design")
    ask.add_argument("--start", type=Path, help="weights to go on from")
    ask.add_argument("--seed", type=int, default=1)
    told = ask.parse_args()
    torch.manual_seed(told.seed)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    tiles = [p for p in sorted(told.pool.glob("tune-*")) if is_taught(p.name)]
    pool = load(told.art, told.designs, tiles, os.cpu_count() or 1)
    print(len(pool.aspect), "designs,", len(tiles), "of them package pictures;", device, flush=True)
    net: torch.nn.Module = Matcher() if told.what == "closer" else Global()
    if told.start:
        net.load_state_dict(torch.load(told.start, map_location="cpu"))
    if told.what == "closer":
        train(net, lambda n, draw: matching_loss(n, *draw.pairs(told.batch, 0.5)), pool, told, device)
    else:
        train(net, lambda n, draw: vectors_loss(n, *draw.alike(told.batch)), pool, told, device)
    told.to.mkdir(parents=True, exist_ok=True)
    torch.save(net.state_dict(), told.to / f"{told.what}.pt")
    export(net, told.to / f"{told.what}.onnx")
    print(sum(p.numel() for p in net.parameters()), "weights")


if __name__ == "__main__":
    main()
