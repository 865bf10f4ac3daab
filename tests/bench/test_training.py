"""The training of the three networks runs, small, on a CPU; what is taught is never what is judged by."""

from pathlib import Path

import numpy as np
import pytest

from sample_batch.art.design import GENRES
from tests.bench.pictures import side_of
from tests.bench.train.art import FIRST_SEED, VERSIONS, is_taught, load, versions_of

torch = pytest.importorskip("torch", reason="PyTorch is for training alone: pip install torch onnx")
pytest.importorskip("onnx", reason="onnx is for training alone: pip install torch onnx")


@pytest.fixture(scope="module")
def pool(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    return load(tmp_path_factory.mktemp("art"), 3, [], 1)


def test_views_of_one_design_name_the_same_places(pool) -> None:  # type: ignore[no-untyped-def]
    """Mates by the known camera show the same: the painting's own tones agree there more than a cell away."""
    from tests.bench.train.forward import Forward
    from tests.bench.train.learn import mates

    draw = Forward(pool, "cpu", 5)
    a, b, same = draw.pairs(24, 0.0)
    target, _ = mates(a, b, same)
    assert same.all() and (target >= 0).float().mean() > 0.2
    smooth = [torch.nn.functional.avg_pool2d(v.grey, 8)[:, 0].flatten(1) for v in (a, b)]
    right, wrong = [], []
    for n in range(24):
        here = (target[n] >= 0).nonzero()[:, 0]
        if len(here) > 100:
            one, other = smooth[0][n][here], smooth[1][n][target[n][here]]
            right.append(abs(np.corrcoef(one, other)[0, 1]))
            wrong.append(abs(np.corrcoef(one, other.roll(37))[0, 1]))
    assert np.median(right) > 2 * np.median(wrong)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_few_steps_run_and_what_is_written_opens(pool, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    import onnxruntime

    from tests.bench.train.export import export
    from tests.bench.train.forward import Forward
    from tests.bench.train.learn import matching_loss, vectors_loss
    from tests.bench.train.nets import Global, Matcher

    draw = Forward(pool, "cpu", 1)
    for net, loss in (
        (Matcher(), lambda n: matching_loss(n, *draw.pairs(2, 0.5))),
        (Global(), lambda n: vectors_loss(n, *draw.alike(3))),
    ):
        value, _ = loss(net)
        value.backward()
        assert torch.isfinite(value) and all(
            torch.isfinite(p.grad).all() for p in net.parameters() if p.grad is not None
        )
        path = tmp_path / f"{type(net).__name__}.onnx"
        export(net, path)
        assert path.stat().st_size < 8e6
        session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
        if isinstance(net, Matcher):
            sizes = {"a": (1, 1, 256, 160), "seen_a": (1, 256, 160), "b": (1, 1, 96, 256), "seen_b": (1, 96, 256)}
            both, *_ = session.run(None, {k: np.ones(v, np.float32) for k, v in sizes.items()})
            assert both.shape == (1, 32 * 20, 12 * 32)
        else:
            (vector,) = session.run(None, {"x": np.random.default_rng(1).random((3, 1, 112, 112), np.float32)})
            assert np.allclose(np.linalg.norm(vector, axis=1), 1, atol=1e-3)


def test_nothing_taught_is_on_the_reporting_side() -> None:
    """Seeds of the paintings lie between those of the bench's sides; a tile's side goes by its source."""
    assert FIRST_SEED > 50_000 + 9_000 and FIRST_SEED + 9_999 < 70_000
    names = [f"source-{n}" for n in range(200)]
    assert {side_of(n) for n in names} == {"tune", "report"}
    assert 20 < sum(is_taught(f"tune-{n:010x}-0001.png") for n in range(100)) < 80
    assert len(versions_of(FIRST_SEED, GENRES[0], 0.7)) == VERSIONS


def test_mates_are_the_same_place_and_hidden_ones_are_left_out(pool) -> None:  # type: ignore[no-untyped-def]
    """A picture beside itself, turned and enlarged by a known transform."""
    import cv2

    from tests.bench.train.reencode import mates_of

    grey = cv2.cvtColor(pool.pixels[0, 0], cv2.COLOR_RGB2GRAY)
    to_b = np.vstack([cv2.getRotationMatrix2D((192, 192), 20, 1.1), [0, 0, 1]])
    turned = cv2.warpAffine(grey, to_b[:2], (384, 384))
    a, b = mates_of((grey, turned, to_b, np.zeros((0, 4))))
    alike = (a * 1.0 * b).sum(1) / np.linalg.norm(a * 1.0, axis=1) / np.linalg.norm(b * 1.0, axis=1)
    assert len(a) > 60 and np.median(alike) > 0.95
    left, _ = mates_of((grey, turned, to_b, np.array([[0, 0, 384, 192.0]])))
    assert 0 < len(left) < len(a)


def test_the_encoder_learns_a_little_of_what_it_is_shown(pool) -> None:  # type: ignore[no-untyped-def]
    from tests.bench.train.forward import Forward
    from tests.bench.train.reencode import FRAME_PX, Encoder, drawn, gathered

    torch.manual_seed(1)
    mates = gathered(Forward(pool, "cpu", 3, FRAME_PX), 6, 6, 1)
    a, b = drawn(mates, np.arange(len(mates)), np.random.default_rng(0), "cpu")
    assert torch.allclose(a.norm(dim=1), torch.ones(len(a)))
    net = Encoder()
    optimiser = torch.optim.AdamW(net.parameters(), lr=1e-3)
    losses = []
    for _ in range(12):
        loss = torch.nn.functional.cross_entropy(net(a) @ net(b).T / 0.06, torch.arange(len(a)))
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        losses.append(loss.item())
    assert losses[-1] < losses[0]
