"""Which of two drawings of a detail a third picture is nearer to, on drawn details of seeds never tuned on.

Film curves, negatives, uneven light, blur, noise, another exposure, a turn and a shift between any two.
"""

from collections import Counter
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.nearer import alike, middle, nearer, settled
from tests.made import SETTINGS

MARGIN, REACH, SIDE = 80, 24, 320
Plane = NDArray[np.float32]
RULES = SETTINGS.points


def drawn(seed: int) -> tuple[Plane, Plane]:
    """A ground with a detail drawn in two ways: a disc or ring, R8 or RB, a border thin or wide, a cross or a line."""
    random = np.random.default_rng(seed)
    ground = np.full((SIDE, SIDE), int(random.integers(150, 230)), np.uint8)
    for _ in range(9):
        cv2.fillPoly(ground, [random.integers(0, SIDE, (4, 1, 2)).astype(np.int32)], int(random.integers(20, 240)))
    (x, y), what, ink = random.integers(140, 180, 2), int(random.integers(4)), int(random.integers(0, 60))
    both = []
    for first in (True, False):
        p = ground.copy()
        if what == 0:
            cv2.circle(p, (x, y), 12, ink, -1 if first else 3)
        elif what == 1:
            cv2.putText(p, "R8" if first else "RB", (x - 25, y + 12), cv2.FONT_HERSHEY_DUPLEX, 1.2, ink, 3)
        elif what == 2:
            cv2.rectangle(p, (x - 40, y - 30), (x + 40, y + 30), ink, 4 if first else 8)
        else:
            cv2.line(p, (x - 40, y), (x + 40, y), ink, 3)
            if first:
                cv2.line(p, (x, y - 20), (x, y + 20), ink, 3)
        both.append(p.astype(np.float32))
    return both[0], both[1]


def seen(picture: Plane, random: np.random.Generator) -> Plane:
    """The same on film or paper, through another lens, scanned again."""
    turn = cv2.getRotationMatrix2D((SIDE / 2, SIDE / 2), random.normal(0, 0.4), 1 + random.normal(0, 0.004))
    turn[:, 2] += random.normal(0, 4, 2)
    made: Any = cv2.warpAffine(picture, turn, (SIDE, SIDE), borderMode=cv2.BORDER_REFLECT)
    made = cv2.GaussianBlur(made, (0, 0), random.uniform(0.3, 1.6))
    made = 255 * (made / 255) ** random.uniform(0.5, 2) * random.uniform(0.5, 1) + random.uniform(0, 40)
    made = made + np.linspace(0, random.uniform(-40, 40), SIDE, dtype=np.float32)
    if random.random() < 0.4:
        made = 255 - made
    return np.asarray((made + random.normal(0, random.uniform(2, 9), made.shape)).clip(0, 255), np.float32)


def _told(original: Plane, copy: Plane, third: Plane) -> str:
    a = middle(original, MARGIN)
    n = nearer(a, settled(original, copy, MARGIN, REACH), settled(original, third, MARGIN, REACH))
    if n.differ < RULES.differ or n.told < RULES.told or 1 - RULES.near < n.share < RULES.near:
        return "unsure"
    return "first" if n.share >= RULES.near else "second"


def test_a_third_picture_is_told_to_be_nearer_to_what_it_was_made_of_or_not_at_all() -> None:
    said: Counter[tuple[str, str]] = Counter()
    for seed in range(1000, 1075):
        random = np.random.default_rng(seed)
        first, second = drawn(seed)
        original, copy = seen(first, random), seen(second, random)
        true = ("first", "second", "another")[seed % 3]
        third = seen({"first": first, "second": second, "another": drawn(seed + 10**6)[0]}[true], random)
        said[true, _told(original, copy, third)] += 1
    right = said["first", "first"] + said["second", "second"]
    wrong = said["first", "second"] + said["second", "first"]
    assert wrong == 0, said
    assert right >= 15, said  # of 50; the others are unsure (on seeds 1000 to 1149: 41 of 100 right, none wrong)
    assert said["another", "unsure"] == 25, said


def test_where_the_two_are_drawn_alike_hardly_anything_is_told() -> None:
    told = 0
    for seed in range(1200, 1230):
        random = np.random.default_rng(seed)
        first, _ = drawn(seed)
        told += _told(seen(first, random), seen(first, random), seen(first, random)) != "unsure"
    assert told <= 2


def test_how_alike_minds_neither_polarity_nor_contrast_but_another_drawing() -> None:
    same, other, flips = [], [], 0
    for seed in range(1300, 1330):
        random = np.random.default_rng(seed)
        a, b, c = seen(drawn(seed)[0], random), seen(drawn(seed)[0], random), seen(drawn(seed + 10**6)[0], random)
        told = alike(middle(a, MARGIN), settled(a, b, MARGIN, REACH))
        flips += told.flipped
        same.append(told.share)
        other.append(alike(middle(a, MARGIN), settled(a, c, MARGIN, REACH)).share)
    assert min(same) > 0.5 > float(np.percentile(other, 90))
    assert 5 < flips < 25  # two in five pictures are negatives
