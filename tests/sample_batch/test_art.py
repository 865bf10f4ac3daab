"""The painter of the sample batch: one design at any size, edits that do what they say, designs that share nothing."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from sample_batch.art import lettering
from sample_batch.art.brush import Canvas, Part
from sample_batch.art.compose import plan
from sample_batch.art.design import GENRES, Edits, Painting, elements, paint
from sample_batch.art.shape import frame, oval

Image8 = NDArray[np.uint8]
WIDTH, HEIGHT = 240, 360
PLAIN = Edits()


def psnr(a: Image8, b: Image8) -> float:
    """Peak signal to noise in dB with 255 as the peak; the common definition."""
    return float(10 * np.log10(255**2 / max(np.mean((a.astype(float) - b) ** 2), 1e-9)))


def small(seed: int, genre: str, edits: Edits = PLAIN) -> Painting:
    return paint(seed, genre, WIDTH, HEIGHT, edits)


def changed(a: Image8, b: Image8) -> NDArray[np.bool_]:
    """Where two pictures differ by more than the grain."""
    return np.asarray(np.abs(a.astype(int) - b).max(-1) > 12)


def inside(box: tuple[float, float, float, float], margin: float = 0.03) -> NDArray[np.bool_]:
    ys, xs = (np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5) / np.array([HEIGHT, WIDTH])[:, None, None]
    left, top, right, bottom = box
    within_x = (xs > left - margin) & (xs < right + margin)
    return np.asarray(within_x & (ys > top - margin) & (ys < bottom + margin))


def seed_with(name: str, genre: str) -> int:
    return next(seed for seed in range(200) if name in elements(seed, genre, WIDTH / HEIGHT))


def test_same_call_same_picture() -> None:
    assert np.array_equal(small(5, GENRES[2]).pixels, small(5, GENRES[2]).pixels)


@pytest.mark.parametrize("genre", GENRES[::3])
def test_sizes_agree(genre: str) -> None:
    large = paint(11, genre, 800, 1200).pixels
    reduced = cv2.resize(large, (300, 450), interpolation=cv2.INTER_AREA)
    direct = paint(11, genre, 300, 450).pixels
    blurred = [cv2.GaussianBlur(each, (0, 0), 3) for each in (reduced, direct)]
    # Below the size of a stroke the two must be one drawing; single strokes may fall a pixel apart.
    assert psnr(blurred[0], blurred[1]) > 30
    other = paint(12, genre, 300, 450).pixels
    assert psnr(reduced, direct) > psnr(reduced, other) + 6


def test_elements_are_those_painted() -> None:
    for genre in GENRES[::3]:
        names = elements(3, genre, WIDTH / HEIGHT)
        assert len(set(names)) == len(names)
        assert names[0] == "sky" and names[-1] == "signature"
        assert set(small(3, genre).boxes) <= set(names)


def test_designs_of_a_genre_differ() -> None:
    plans = {
        tuple((e.name, tuple(e.place.ravel().round(3))) for e in plan(s, GENRES[0], 0.667).elements) for s in range(12)
    }
    assert len(plans) == 12


def test_designs_share_no_keypoints() -> None:
    sift = cv2.SIFT_create(800)
    found = [sift.detectAndCompute(paint(s, GENRES[0], 480, 720).pixels, None) for s in (21, 22)]
    again = sift.detectAndCompute(paint(21, GENRES[0], 640, 960).pixels, None)

    def kept(a: tuple[object, Image8], b: tuple[object, Image8]) -> int:
        pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(a[1], b[1], k=2)
        return sum(m.distance < 0.75 * n.distance for m, n in pairs)

    assert kept(found[0], again) > 8 * max(kept(found[0], found[1]), 5)


def test_dropped_element_changes_only_its_place() -> None:
    seed = seed_with("figure_1", GENRES[0])
    whole = small(seed, GENRES[0])
    without = small(seed, GENRES[0], Edits(drop=("figure_1",)))
    assert "figure_1" not in without.boxes
    difference = changed(whole.pixels, without.pixels)
    assert difference[inside(whole.boxes["figure_1"])].mean() > 0.1
    assert difference[~inside(whole.boxes["figure_1"])].mean() < 0.002


def test_moved_and_scaled_boxes() -> None:
    seed = seed_with("machine", GENRES[0])
    edits = Edits(move=(("machine", 0.05, -0.04),), scale=(("machine", 0.5),))
    before, after = (small(seed, GENRES[0], e).boxes["machine"] for e in (Edits(scale=(("machine", 0.5),)), edits))
    shift = np.subtract(after, before)
    if min(before) > 0.06 and max(before) < 0.94:
        assert shift == pytest.approx([0.05, -0.04, 0.05, -0.04], abs=1e-4)
    half, full = before, small(seed, GENRES[0]).boxes["machine"]
    assert half[2] - half[0] < full[2] - full[0]


def test_moved_part_takes_its_strokes_along() -> None:
    part = Part(oval(0, 0, 1, 0.8), (180, 90, 60), form=0.3, stroke=0.06, ragged=0.05, swirl=0.8)
    views = []
    for x in (0.25, 0.5):
        canvas = Canvas(np.full((400, 400, 3), 240, np.uint8))
        canvas.lay(part, frame(x, 0.5, 0.2), np.random.Generator(np.random.PCG64(3)))
        views.append(canvas.pixels[100:300, int(x * 400) - 95 : int(x * 400) + 95])
    assert views[0].std() > 10
    assert psnr(*views) > 40


def test_redrawn_element_keeps_place_and_colours() -> None:
    seed = seed_with("figure_1", GENRES[6])
    first, redrawn = small(seed, GENRES[6]), small(seed, GENRES[6], Edits(redraw=("figure_1",)))
    area = inside(first.boxes["figure_1"])
    assert changed(first.pixels, redrawn.pixels)[area].mean() > 0.05
    assert changed(first.pixels, redrawn.pixels)[~inside(first.boxes["figure_1"], 0.08)].mean() < 0.002
    assert np.abs(first.pixels[area].mean(0) - redrawn.pixels[area].mean(0)).max() < 20


def test_another_brush_keeps_the_drawing() -> None:
    first, second = small(8, GENRES[4]).pixels, small(8, GENRES[4], Edits(brush=2)).pixels
    assert changed(first, second).mean() > 0.2
    assert psnr(cv2.GaussianBlur(first, (0, 0), 6), cv2.GaussianBlur(second, (0, 0), 6)) > 28


def test_signature_left_off_and_covered() -> None:
    signed, plain = small(4, GENRES[1]), small(4, GENRES[1], Edits(signature=False))
    covered = small(4, GENRES[1], Edits(covered=("signature",)))
    area = inside(signed.boxes["signature"], 0.0)
    assert "signature" not in plain.boxes and "signature" in covered.boxes
    assert changed(signed.pixels, plain.pixels)[area].any()
    assert covered.pixels[area].std(0).mean() < signed.pixels[area].std(0).mean()


def test_unknown_names_are_refused() -> None:
    with pytest.raises(ValueError, match="no unicorn"):
        small(1, GENRES[0], Edits(drop=("unicorn",)))
    with pytest.raises(KeyError):
        small(1, "no such genre")


@pytest.mark.parametrize("face", lettering.FACES)
def test_every_face_has_the_letters_needed(face: str) -> None:
    type_ = lettering.font(face, 40)
    missing = bytes(type_.getmask("\uffff"))
    assert [c for c in "AZaz09éèêàôçñöüäßÉÈÇÑÖÜ°&.,:;-–’()/" if bytes(type_.getmask(c)) == missing] == []


@pytest.mark.parametrize("face", ["condensed", "grotesque", "serif", "typewriter", "billing"])
@pytest.mark.parametrize("cap_px", [12, 60, 500])
def test_lettering_is_set_by_cap_height(face: str, cap_px: int) -> None:
    rows = np.flatnonzero((lettering.letter("HHH", cap_px, face=face, fill=(0, 0, 0))[..., 3] > 127).any(1))
    assert rows[-1] - rows[0] + 1 == pytest.approx(cap_px, abs=max(1, 0.02 * cap_px))


def test_lettering_bends_and_leans() -> None:
    plain = lettering.letter("STRAIGHT", 60, face="poster", fill=(200, 30, 20))
    arched = lettering.letter("STRAIGHT", 60, face="poster", fill=(200, 30, 20), arch=0.8)
    leaning = lettering.letter("STRAIGHT", 60, face="poster", fill=(200, 30, 20), slant=0.3)
    assert arched.shape[0] > plain.shape[0] + 0.75 * 60 * 0.8
    assert leaning.shape[1] > plain.shape[1] + 10
    ink = plain[plain[..., 3] > 250][:, :3]
    assert np.abs(ink.astype(int) - (200, 30, 20)).max() <= 2


def test_signatures_differ_by_seed() -> None:
    one, two = lettering.script_signature(1, 60), lettering.script_signature(2, 60)
    assert one.shape[0] == two.shape[0] == 60
    assert one.shape != two.shape or not np.array_equal(one, two)
